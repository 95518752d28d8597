package publish

import (
	"encoding/json"
	"fmt"
	"time"

	"manobridge/convert"
)

// Schema is the version every message carries.
const Schema = 1

// Payload is one result as other programs see it: one JSON object with its keys always in the same order, absent
// numbers left out and never null, every number with the fewest digits that read back as the same float64.
//
// status, status_code, ne107 and causes are always there. Row is for the offline conversion, Origin for messages.
type Payload struct {
	Row  int       // 1 for the first line after the header; 0 leaves it out
	Time time.Time // the zero time leaves it out: a row of a file need not have one
	// Instrument is the name in the configuration.
	Instrument string

	DifferentialPressurePa convert.Optional[float64]
	AbsolutePressurePa     convert.Optional[float64]
	ExpandedUncertaintyPa  convert.Optional[float64] // only beside a pressure
	CoverageFactor         convert.Optional[float64] // only beside a pressure
	HeadMM                 convert.Optional[float64]
	TemperatureC           convert.Optional[float64]

	// Average is of a result that closes a window of averaging; nil leaves its keys out.
	Average *Average

	Status     string // good, uncertain, bad
	StatusCode uint32 // OPC UA
	NE107      string // F, C, S, M or empty
	Causes     []convert.Cause
	// Reason says in a line why there is no pressure, for the offline conversion; empty leaves it out.
	Reason string

	// Origin names where the result comes from; nil leaves site, run, seq, config and schema out.
	Origin *Origin
}

// Origin is what a message adds to the result. (Run, instrument, Seq) names the result for ever; Config is the hash
// of the coefficient set that produced it.
type Origin struct {
	Site, Run string
	Seq       uint64
	Config    string
}

// NewPayload makes the payload of a result, without Row and Origin.
func NewPayload(r *convert.Result) Payload {
	p := Payload{
		Time:       r.ReceivedAt,
		Instrument: r.Instrument,
		Status:     r.Status.String(),
		StatusCode: r.StatusCode,
		NE107:      string(r.NE107),
		Causes:     r.Causes,
	}
	if pa, ok := r.Pressure(); ok {
		if r.Kind == convert.AbsoluteValue {
			p.AbsolutePressurePa = number(pa)
		} else {
			p.DifferentialPressurePa = number(pa)
		}
		p.ExpandedUncertaintyPa = number(r.ExpandedU)
		p.CoverageFactor = number(r.CoverageFactor)
	}
	if r.Head.Set {
		p.HeadMM = number(millimetres(r.Head.V))
	}
	if r.Temperature.Set {
		p.TemperatureC = number(celsius(r.Temperature.V))
	}
	p.Average = averageOf(r.Average)
	return p
}

// NewMessage makes the payload of a result as a message carries it.
func NewMessage(site string, r *convert.Result) Payload {
	p := NewPayload(r)
	p.Origin = &Origin{Site: site, Run: r.Run, Seq: r.Seq, Config: r.Config}
	return p
}

// number is absent for what JSON has no number for.
func number(v float64) convert.Optional[float64] {
	if !finite(v) {
		return convert.Optional[float64]{}
	}
	return convert.Some(v)
}

// Append writes the payload to dst as one line of JSON without a line end.
func (p *Payload) Append(dst []byte) []byte {
	dst = append(dst, '{')
	if p.Row != 0 {
		dst = append(dst, `"row":`...)
		dst = appendInt(dst, uint64(p.Row))
		dst = append(dst, ',')
	}
	if !p.Time.IsZero() {
		dst = append(dst, `"time":"`...)
		dst = p.Time.UTC().AppendFormat(dst, time.RFC3339Nano)
		dst = append(dst, `",`...)
	}
	dst = append(dst, `"instrument":`...)
	dst = appendText(dst, p.Instrument)
	dst = appendField(dst, `,"differential_pressure_pa":`, p.DifferentialPressurePa)
	dst = appendField(dst, `,"absolute_pressure_pa":`, p.AbsolutePressurePa)
	dst = appendField(dst, `,"expanded_uncertainty_pa":`, p.ExpandedUncertaintyPa)
	dst = appendField(dst, `,"coverage_factor":`, p.CoverageFactor)
	dst = appendField(dst, `,"head_mm":`, p.HeadMM)
	dst = appendField(dst, `,"temperature_c":`, p.TemperatureC)
	dst = p.Average.append(dst)
	dst = append(dst, `,"status":`...)
	dst = appendText(dst, p.Status)
	dst = append(dst, `,"status_code":`...)
	dst = appendInt(dst, uint64(p.StatusCode))
	dst = append(dst, `,"ne107":`...)
	dst = appendText(dst, p.NE107)
	dst = append(dst, `,"causes":[`...)
	for i, c := range p.Causes {
		if i > 0 {
			dst = append(dst, ',')
		}
		dst = appendText(dst, string(c))
	}
	dst = append(dst, ']')
	if p.Reason != "" {
		dst = append(dst, `,"reason":`...)
		dst = appendText(dst, p.Reason)
	}
	if o := p.Origin; o != nil {
		dst = append(dst, `,"site":`...)
		dst = appendText(dst, o.Site)
		dst = append(dst, `,"run":`...)
		dst = appendText(dst, o.Run)
		dst = append(dst, `,"seq":`...)
		dst = appendInt(dst, o.Seq)
		dst = append(dst, `,"config":`...)
		dst = appendText(dst, o.Config)
		dst = append(dst, `,"schema":1`...)
	}
	return append(dst, '}')
}

func appendField(dst []byte, key string, v convert.Optional[float64]) []byte {
	if !v.Set || !finite(v.V) {
		return dst
	}
	return appendNumber(append(dst, key...), v.V)
}

// object is the wire form, for reading.
type object struct {
	Row                    *int            `json:"row"`
	Time                   *time.Time      `json:"time"`
	Instrument             *string         `json:"instrument"`
	DifferentialPressurePa *float64        `json:"differential_pressure_pa"`
	AbsolutePressurePa     *float64        `json:"absolute_pressure_pa"`
	ExpandedUncertaintyPa  *float64        `json:"expanded_uncertainty_pa"`
	CoverageFactor         *float64        `json:"coverage_factor"`
	HeadMM                 *float64        `json:"head_mm"`
	TemperatureC           *float64        `json:"temperature_c"`
	WindowS                *float64        `json:"window_s"`
	Samples                *int            `json:"samples"`
	GoodSamples            *int            `json:"good_samples"`
	PressureMinPa          *float64        `json:"pressure_min_pa"`
	PressureMeanPa         *float64        `json:"pressure_mean_pa"`
	PressureMaxPa          *float64        `json:"pressure_max_pa"`
	PressureSDPa           *float64        `json:"pressure_sd_pa"`
	Status                 *string         `json:"status"`
	StatusCode             *uint32         `json:"status_code"`
	NE107                  *string         `json:"ne107"`
	Causes                 []convert.Cause `json:"causes"`
	Reason                 string          `json:"reason"`
	Site                   *string         `json:"site"`
	Run                    *string         `json:"run"`
	Seq                    *uint64         `json:"seq"`
	Config                 *string         `json:"config"`
	Schema                 *int            `json:"schema"`
}

// ParsePayload reads what Append writes. Keys it does not know are passed over, as a later schema may add some; a key
// every payload has must be there, and a schema other than Schema is refused.
func ParsePayload(data []byte) (Payload, error) {
	var o object
	if err := json.Unmarshal(data, &o); err != nil {
		return Payload{}, fmt.Errorf("read payload: %w", err)
	}
	switch {
	case o.Time == nil && o.Schema != nil:
		return Payload{}, missingKey("time")
	case o.Instrument == nil:
		return Payload{}, missingKey("instrument")
	case o.Status == nil:
		return Payload{}, missingKey("status")
	case o.StatusCode == nil:
		return Payload{}, missingKey("status_code")
	case o.NE107 == nil:
		return Payload{}, missingKey("ne107")
	case o.Causes == nil:
		return Payload{}, missingKey("causes")
	}
	var at time.Time
	if o.Time != nil {
		at = o.Time.UTC()
	}
	if y := at.Year(); y < 0 || y > 9999 {
		return Payload{}, fmt.Errorf("read payload: time in year %d, allowed 0 to 9999", y)
	}
	p := Payload{
		Time: at, Instrument: *o.Instrument,
		DifferentialPressurePa: optional(o.DifferentialPressurePa),
		AbsolutePressurePa:     optional(o.AbsolutePressurePa),
		ExpandedUncertaintyPa:  optional(o.ExpandedUncertaintyPa),
		CoverageFactor:         optional(o.CoverageFactor),
		HeadMM:                 optional(o.HeadMM),
		TemperatureC:           optional(o.TemperatureC),
		Status:                 *o.Status, StatusCode: *o.StatusCode, NE107: *o.NE107, Causes: o.Causes, Reason: o.Reason,
	}
	var err error
	if p.Average, err = o.average(); err != nil {
		return Payload{}, err
	}
	if o.Row != nil {
		if *o.Row < 0 {
			return Payload{}, fmt.Errorf("read payload: row %d, allowed 1 and up", *o.Row)
		}
		p.Row = *o.Row
	}
	if o.Schema == nil {
		return p, nil
	}
	switch {
	case *o.Schema != Schema:
		return Payload{}, fmt.Errorf("read payload: schema %d, allowed %d", *o.Schema, Schema)
	case o.Site == nil:
		return Payload{}, missingKey("site")
	case o.Run == nil:
		return Payload{}, missingKey("run")
	case o.Seq == nil:
		return Payload{}, missingKey("seq")
	case o.Config == nil:
		return Payload{}, missingKey("config")
	}
	p.Origin = &Origin{Site: *o.Site, Run: *o.Run, Seq: *o.Seq, Config: *o.Config}
	return p, nil
}

func missingKey(key string) error { return fmt.Errorf("read payload: no key %q", key) }

func optional(v *float64) convert.Optional[float64] {
	if v == nil {
		return convert.Optional[float64]{}
	}
	return convert.Some(*v)
}
