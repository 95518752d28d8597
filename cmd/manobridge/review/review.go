// Package review works out what a configured instrument can do, for a person to hold against the instrument on the wall:
// its equation, sensitivity, range, resolution and uncertainty, and what was assumed where nothing was stated.
//
// It computes nothing that the converter does not; it only asks it.
package review

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"manobridge/cmd/manobridge/assemble"
	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/gravity"
	"manobridge/convert/quantity"
)

// Sheet is what check prints.
type Sheet struct {
	Site        string          `json:"site"`
	Bridge      string          `json:"bridge"`
	Gravity     gravity.Gravity `json:"-"`
	Instruments []Card          `json:"instruments"`
	Limits      []LimitCard     `json:"limits"`
	Asked       []string        `json:"asked,omitempty"` // of each port that asks
	Remarks     []string        `json:"remarks"`
	Cautions    []string        `json:"cautions"`
}

// Card is one instrument.
type Card struct {
	Name     string `json:"instrument"`
	Kind     string `json:"kind"`
	Liquid   string `json:"liquid"`
	Source   string `json:"liquid_source"`
	Port     string `json:"port,omitempty"`
	Address  string `json:"address,omitempty"`
	Config   string `json:"config"`
	Equation string `json:"equation"`
	// Channels say where the values come from that are needed beside the positions; Average is empty where each reading is
	// a result.
	Channels []string `json:"channels"`
	Average  string   `json:"average,omitempty"`

	SensitivityMMPerPa float64    `json:"sensitivity_mm_per_pa"`
	Limb               string     `json:"sensitivity_limb"`
	ScalePa            [2]float64 `json:"scale_pa"`
	RangePa            [2]float64 `json:"range_pa"`
	RangeStated        bool       `json:"range_stated"`
	ResolutionPa       *float64   `json:"resolution_pa,omitempty"`
	Points             []Point    `json:"uncertainty"`
	Assumed            []string   `json:"assumed"`
	Notes              []string   `json:"notes"`

	// Unit is that of pressures in the text, and PerPa how many of it make a pascal. Empty: Pa.
	Unit  string  `json:"-"`
	PerPa float64 `json:"-"`
}

// Point is the uncertainty at one pressure of the range.
type Point struct {
	Where                 string   `json:"at"`
	PressurePa            float64  `json:"pressure_pa"`
	LowMM                 *float64 `json:"low_mm,omitempty"`
	HighMM                *float64 `json:"high_mm,omitempty"`
	ExpandedUncertaintyPa float64  `json:"expanded_uncertainty_pa"`
	CoverageFactor        float64  `json:"coverage_factor"`
	OnScale               bool     `json:"on_scale"`
	Largest               string   `json:"largest_contribution"`
	LargestShare          float64  `json:"largest_share"`
}

// Instrument makes the card of one instrument.
func Instrument(c *configs.Config, in *configs.Instrument) (Card, error) {
	conv, err := assemble.Converter(c, in)
	if err != nil {
		return Card{}, err
	}
	liquid, err := assemble.Fluid(c, in.Liquid)
	if err != nil {
		return Card{}, err
	}
	set, err := assemble.CoefficientSet(c, in)
	if err != nil {
		return Card{}, err
	}
	card := Card{Name: in.Name, Kind: conv.Kind(), Liquid: in.Liquid, Source: liquid.Source(), Port: in.Port, Address: in.Address,
		Config: set.Hash, Equation: conv.Equation(), Channels: channels(c, in), Average: averaged(in), Assumed: []string{}, Notes: []string{}}
	for _, i := range conv.Inputs() {
		if i.Assumed {
			card.Assumed = append(card.Assumed, strings.TrimSuffix(fmt.Sprintf("%s: u = %.3g %s", i.Name, i.U, i.Unit), " 1"))
		}
	}
	card.Notes = append(card.Notes, engraved(&in.Geometry)...)
	high, low := assemble.Positions(c, in)
	card.Limb = "low"
	if high && !low {
		card.Limb = "high"
	}
	if err := card.fill(conv, in, low); err != nil && !errors.Is(err, convert.ErrNoVolume) {
		return Card{}, fmt.Errorf("instrument %s: %w", in.Name, err)
	} else if err != nil {
		card.Notes = append(card.Notes, "no range can be told: "+err.Error())
	}
	return card, nil
}

// engraved says what an engraved scale is taken to have been made for where the file does not say.
func engraved(g *configs.Geometry) []string {
	if g.Kind != configs.Graduated {
		return nil
	}
	var notes []string
	if unit, err := quantity.ParseDifferentialPressure("1 " + g.Unit); err == nil && unit.Assumption != "" {
		notes = append(notes, "the scale's "+unit.Assumption)
	}
	if g.GravityMS2 == nil {
		notes = append(notes, "gravity_m_s2 is not stated: the scale is taken to be made for 9.80665 m/s²")
	}
	if g.ScaleGasDensityKgM3 == nil {
		notes = append(notes, "scale_gas_density_kg_m3 is not stated: the scale is taken to be made for no gas over the liquid")
	}
	return notes
}

// fill adds what follows from the volume balance.
func (card *Card) fill(conv *convert.Converter, in *configs.Instrument, low bool) error {
	t := conv.ZeroTemperature()
	from, to, err := conv.ScaleSpan(t)
	if err != nil {
		return err
	}
	if math.IsInf(from, 0) || math.IsInf(to, 0) || math.IsNaN(from+to) {
		if in.RangePa == nil {
			card.Notes = append(card.Notes, "no range can be told: neither the first and last mark (scale) nor range_pa is stated")
			return nil
		}
		from, to = in.RangePa[0], in.RangePa[1]
	}
	card.ScalePa, card.RangePa = [2]float64{from, to}, [2]float64{from, to}
	if in.RangePa != nil {
		card.RangePa, card.RangeStated = *in.RangePa, true
	}
	a, b := card.RangePa[0], card.RangePa[1]
	for _, at := range []struct {
		where string
		pa    float64
	}{{"low", a}, {"mid", (a + b) / 2}, {"full", b}} {
		p, err := conv.Predict(at.pa, t)
		if err != nil {
			return err
		}
		card.SensitivityMMPerPa = math.Abs(p.MovePerPa) * 1000
		pt := Point{Where: at.where, PressurePa: at.pa, ExpandedUncertaintyPa: p.ExpandedU, CoverageFactor: p.ExpandedU / p.CombinedU, OnScale: p.OnScale}
		if p.Low.Set && in.Geometry.Kind != configs.Graduated { // its marks are no millimetres
			v := p.Low.V.Millimetres()
			pt.LowMM = &v
		}
		if p.High.Set {
			v := p.High.V.Millimetres()
			pt.HighMM = &v
		}
		pt.Largest, pt.LargestShare = largest(conv.Inputs(), &p)
		card.Points = append(card.Points, pt)
	}
	if r := in.Uncertainty.ResolutionMM; r != nil && *r > 0 {
		v := *r / card.SensitivityMMPerPa
		card.ResolutionPa = &v
	}
	return nil
}

// largest names the input that contributes most, and its share of the variance.
func largest(inputs []convert.Input, p *convert.Prediction) (string, float64) {
	best := 0
	for i := range inputs {
		if math.Abs(p.Contributions[i]) > math.Abs(p.Contributions[best]) {
			best = i
		}
	}
	if p.CombinedU == 0 {
		return "", 0
	}
	return inputs[best].Name, math.Pow(p.Contributions[best]/p.CombinedU, 2)
}
