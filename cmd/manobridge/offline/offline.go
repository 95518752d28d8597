// Package offline reads positions from CSV and converts them row by row, for readings written down by hand or kept in a
// file.
//
// It gives one result for each row, in order, refused ones included: a row it cannot read becomes a result without a
// pressure that names the cause. It refuses a header it does not know in full, because a column passed over in silence
// may be the one that mattered.
package offline

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"manobridge/convert"
	"manobridge/convert/quantity"
	"manobridge/publish"
)

// columns are the names a header may have.
var columns = []string{"time", "instrument", "high_mm", "low_mm", "reading", "temperature_c", "tilt_deg", "ambient_c", "pressure_hpa", "humidity_pct"}

// Reader converts the rows of one CSV. It is not safe for concurrent use.
type Reader struct {
	csv        *csv.Reader
	header     []string
	converters map[string]*convert.Converter
	only       string // the instrument of rows that name none; empty where there are several
	count      int
	signals    map[string]*Signals
	given      []string // columns of the row being read that hold something
}

// Row is one converted row.
type Row struct {
	Number int // 1 for the first line after the header
	Result convert.Result
}

// JSON gives the row as one line without a line end.
func (r Row) JSON() []byte {
	p := publish.NewPayload(&r.Result)
	p.Row = r.Number
	if r.Result.Refusal != nil {
		p.Reason = r.Result.Refusal.Error()
	}
	return p.Append(nil)
}

// NewReader reads the header and refuses one it does not know in full.
func NewReader(in io.Reader, converters map[string]*convert.Converter) (*Reader, error) {
	r := &Reader{csv: csv.NewReader(in), converters: converters}
	r.csv.FieldsPerRecord = -1 // each row answers for itself
	r.csv.TrimLeadingSpace = true
	if len(converters) == 1 {
		for name := range converters {
			r.only = name
		}
	}
	header, err := r.csv.Read()
	if err != nil {
		if errors.Is(err, io.EOF) {
			return nil, errors.New("the CSV is empty; its first line must name the columns, among " + strings.Join(columns, ", "))
		}
		return nil, fmt.Errorf("read the CSV header: %w", err)
	}
	for i, name := range header {
		name = strings.TrimSpace(strings.TrimPrefix(name, "\ufeff"))
		switch {
		case !slices.Contains(columns, name) && !slices.Contains(signalColumns, name):
			return nil, fmt.Errorf("CSV column %d is named %q; known are %s, and for signals %s. Nothing was converted; rename or remove it", i+1, name,
				strings.Join(columns, ", "), strings.Join(signalColumns, ", "))
		case slices.Contains(r.header, name):
			return nil, fmt.Errorf("CSV column %q stands twice. Nothing was converted; remove one", name)
		}
		r.header = append(r.header, name)
	}
	if r.only == "" && !slices.Contains(r.header, "instrument") {
		return nil, fmt.Errorf("%d instruments are configured, so the CSV needs a column instrument", len(converters))
	}
	return r, nil
}

// Count is how many rows were read.
func (r *Reader) Count() int { return r.count }

// Next converts the next row. It gives io.EOF after the last, and another error only where the input itself fails.
func (r *Reader) Next() (Row, error) {
	record, err := r.csv.Read()
	if errors.Is(err, io.EOF) {
		return Row{}, io.EOF
	}
	r.count++
	row := Row{Number: r.count}
	var bad *csv.ParseError
	switch {
	case errors.As(err, &bad):
		return r.refuse(row, convert.Reading{}, &convert.Refusal{Code: convert.FrameFormat, Field: "line " + strconv.Itoa(bad.Line),
			Seen: "is not CSV: " + bad.Err.Error(), Check: "its quotes"}), nil
	case err != nil:
		return Row{}, fmt.Errorf("read the CSV: %w", err)
	}
	reading, refusal := r.reading(record)
	if refusal != nil {
		return r.refuse(row, reading, refusal), nil
	}
	note, refusal := r.work(&reading, r.given)
	if refusal != nil {
		return r.refuse(row, reading, refusal), nil
	}
	row.Result = r.converters[reading.Instrument].Convert(reading)
	if note != nil {
		row.Result.Mark(note)
	}
	return row, nil
}

func (r *Reader) refuse(row Row, reading convert.Reading, why *convert.Refusal) Row {
	reading.Refusal = why
	row.Result = convert.Refused(reading)
	return row
}

// reading makes a reading of one record.
func (r *Reader) reading(record []string) (convert.Reading, *convert.Refusal) {
	rd := convert.Reading{Name: convert.Name{Instrument: r.only}}
	if len(record) != len(r.header) {
		return rd, &convert.Refusal{Code: convert.FrameFields, Field: "row", Seen: fmt.Sprintf("has %d fields", len(record)),
			Allowed: fmt.Sprintf("%d, as the header", len(r.header)), Check: "separators, and decimal commas"}
	}
	r.given = r.given[:0]
	for i, name := range r.header {
		text := strings.TrimSpace(record[i])
		if text == "" {
			continue // absent, never zero
		}
		r.given = append(r.given, name)
		if why := set(&rd, name, text); why != nil {
			return rd, why
		}
	}
	if r.converters[rd.Instrument] == nil {
		why := &convert.Refusal{Code: convert.FrameAddress, Field: "instrument", Seen: strconv.Quote(rd.Instrument), Allowed: strings.Join(sortedNames(r.converters), ", "), Check: "the spelling"}
		return rd, why
	}
	return rd, unread(r.converters[rd.Instrument], &rd)
}

// unread refuses a position that the instrument does not read: passed over, a second limb that moved otherwise than its
// volume says, or a row of another instrument, would leave a pressure that looks right.
func unread(c *convert.Converter, rd *convert.Reading) *convert.Refusal {
	high, low, indicated := c.Reads()
	for _, f := range []struct {
		name       string
		given, use bool
	}{{"high_mm", rd.High.Set, high}, {"low_mm", rd.Low.Set, low}, {"reading", rd.Indicated.Set, indicated}} {
		if f.given && !f.use {
			return &convert.Refusal{Code: convert.FrameFields, Field: f.name, Seen: "is given, and " + rd.Instrument + " does not read it",
				Allowed: "an empty field", Check: "that the row is of this instrument, and which positions its zero or tie has"}
		}
	}
	if rd.Tilt.Set && !c.FollowsTilt(rd.Tilt.V) && !math.IsNaN(float64(rd.Tilt.V)) {
		return &convert.Refusal{Code: convert.TiltRange, Field: "tilt_deg", Seen: fmt.Sprintf("%.6g °", rd.Tilt.V.Degrees()),
			Allowed: "that of the zero, as how far another moves it is not known", Check: "zero_distance_mm in the configuration"}
	}
	return nil
}

func sortedNames(m map[string]*convert.Converter) []string {
	names := make([]string, 0, len(m))
	for n := range m {
		names = append(names, n)
	}
	slices.Sort(names)
	return names
}

// set puts one field into the reading.
func set(rd *convert.Reading, name, text string) *convert.Refusal {
	switch name {
	case "instrument":
		rd.Instrument = text
		return nil
	case "time":
		at, err := time.Parse(time.RFC3339Nano, text)
		if err != nil {
			return &convert.Refusal{Code: convert.FrameFormat, Field: "time", Seen: strconv.Quote(text),
				Allowed: "a date and time with its zone, as 2026-03-01T08:00:00Z", Check: "that the zone is there"}
		}
		rd.ReceivedAt = at.UTC()
		return nil
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || strings.ContainsAny(text, "xX_") {
		return &convert.Refusal{Code: convert.FrameNumber, Field: name, Seen: strconv.Quote(text), Allowed: "a number with a decimal point", Check: "decimal commas, units and letters in the field"}
	}
	switch name {
	case "high_mm":
		rd.High = convert.Some(quantity.Millimetres(v))
	case "low_mm":
		rd.Low = convert.Some(quantity.Millimetres(v))
	case "reading":
		rd.Indicated = convert.Some(v)
	case "temperature_c":
		rd.Temperature = convert.Some(quantity.Celsius(v))
	case "tilt_deg":
		rd.Tilt = convert.Some(quantity.Degrees(v))
	case "ambient_c":
		rd.AmbientTemperature = convert.Some(quantity.Celsius(v))
	case "pressure_hpa":
		rd.AmbientPressure = convert.Some(quantity.AbsolutePressure(v * 100))
	case "humidity_pct":
		rd.AmbientHumidity = convert.Some(quantity.Ratio(v / 100))
	default:
		setSignal(rd, name, v)
	}
	return nil
}
