package simulate

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// siteTruth is what all instruments of a hall share.
type siteTruth struct {
	g   float64 // m/s²
	air float64 // kg/m³, density of the air in the legs
}

// liquidTruth is the liquid that is really in the bottle.
type liquidTruth struct {
	water      bool
	purity     float64
	refDensity float64 // kg/m³
	refC       float64 // °C
	expansion  float64 // 1/K
}

// Hall is a hall as it really is: one draw from a Declared. Safe for concurrent use.
type Hall struct {
	Declared Declared
	Story    Story
	Seed     uint64

	site    siteTruth
	columns map[string]*column
	zeros   map[string]Observation
	ties    map[string]Observation
	draws   []Draw
}

// Observation is what a digitizer makes of a column, in the units it reports.
type Observation struct {
	HighMm, LowMm float64
	TemperatureC  float64
}

// Build draws the truth behind a declaration. It refuses a declaration it cannot simulate.
func Build(d Declared, seed uint64) (*Hall, error) {
	h := &Hall{
		Declared: d, Seed: seed,
		columns: map[string]*column{}, zeros: map[string]Observation{}, ties: map[string]Observation{},
	}
	if d.Story != nil {
		h.Story = d.Story(seed)
	}

	site := drawer{stream(seed, "site"), "site", &h.draws}
	h.site.g = site.draw("gravity_m_s2", d.Gravity)
	h.site.air = moistAir(
		site.draw("ambient_temperature_c", d.Ambient.TemperatureC),
		site.draw("ambient_pressure_hpa", d.Ambient.PressureHPa)*100,
		site.draw("ambient_humidity_pct", d.Ambient.HumidityPct)/100)

	liquids := map[string]*liquidTruth{}
	w := drawer{stream(seed, "liquid", Water), Water, &h.draws}
	liquids[Water] = &liquidTruth{water: true, purity: w.draw("density (relative)", Input{1, d.WaterU})}
	for _, l := range d.Liquids {
		dr := drawer{stream(seed, "liquid", l.Name), l.Name, &h.draws}
		liquids[l.Name] = &liquidTruth{
			refDensity: dr.draw("density_kg_m3", l.DensityKgM3),
			expansion:  dr.draw("expansion_per_k", l.ExpansionPerK),
			refC:       l.ReferenceC,
		}
	}

	for i := range d.Instruments {
		in := &d.Instruments[i]
		c, err := h.drawColumn(in, liquids)
		if err != nil {
			return nil, fmt.Errorf("simulate %s: %w", in.Name, err)
		}
		h.columns[in.Name] = c
		h.takeZeroAndTie(in, c)
	}
	return h, nil
}

// drawColumn draws one instrument.
func (h *Hall) drawColumn(in *Instrument, liquids map[string]*liquidTruth) (*column, error) {
	dr := drawer{stream(h.Seed, "instrument", in.Name), in.Name, &h.draws}
	c := &column{
		liquid: liquids[in.Liquid], site: &h.site,
		restC: in.RestC, charge: dr.draw("charge_ml", in.ChargeMl) * 1e-6, bodyPerK: dr.draw("body_expansion_per_k", in.BodyExpansionPerK),
		scalePerK: dr.draw("scale_expansion_per_k", in.ScaleExpansionPerK), scaleC: in.ScaleReferenceC,
		positionU: in.PositionU * 1e-3, temperature: in.TemperatureU, resolution: in.ResolutionMm * 1e-3,
	}
	if c.liquid == nil {
		return nil, fmt.Errorf("no liquid %q", in.Liquid)
	}
	limb := func(side string, l *Limb) (limbTruth, error) {
		bore := dr.draw(side+" bore_mm", l.BoreMm) * 1e-3
		t := limbTruth{
			sin:   math.Sin(dr.draw(side+" slope_deg", l.SlopeDeg) * math.Pi / 180),
			area:  math.Pi / 4 * bore * bore,
			zeroH: dr.draw(side+" scale_zero_height_mm", l.ScaleZeroHeightMm) * 1e-3,
			tapH:  dr.draw(side+" tap_height_mm", l.TapHeightMm) * 1e-3,
			over:  liquids[l.Over],
		}
		switch {
		case l.Over != "" && t.over == nil:
			return t, fmt.Errorf("no liquid %q", l.Over)
		case !(t.sin > 0) || !(bore > 0):
			return t, fmt.Errorf("%s limb: slope %g deg and bore %g mm must be above 0", side, l.SlopeDeg.Value, l.BoreMm.Value)
		case t.over != nil && t.over.densityOf(in.RestC) >= c.liquid.densityOf(in.RestC):
			return t, fmt.Errorf("%s limb: %s would sink through %s", side, l.Over, in.Liquid)
		}
		return t, nil
	}
	var err error
	if c.high, err = limb("high", &in.High); err != nil {
		return nil, err
	}
	if c.low, err = limb("low", &in.Low); err != nil {
		return nil, err
	}
	c.high.digitized = h.Declared.digitizesHigh(in)
	// The true position at rest: the scale mark RestMm of an ideal scale.
	c.low.rest = in.RestMm * 1e-3
	c.high.rest = c.restHigh()
	return c, nil
}

// takeZeroAndTie plays the owner taking the zero reading, and the tie, each with its own errors: standard uncertainty
// ZeroU or TieU on each position, TemperatureU on the thermometer.
func (h *Hall) takeZeroAndTie(in *Instrument, c *column) {
	take := func(what string, u, p float64) Observation {
		dr := drawer{stream(h.Seed, what, in.Name), in.Name, &h.draws}
		high, low := c.settle(p, c.restC)
		trueHigh, trueLow := c.scaleReading(high, c.restC)*1e3, c.scaleReading(low, c.restC)*1e3
		o := Observation{
			HighMm:       trueHigh + u*dr.rand.NormFloat64(),
			LowMm:        trueLow + u*dr.rand.NormFloat64(),
			TemperatureC: c.restC + in.TemperatureU*dr.rand.NormFloat64(),
		}
		for _, d := range []Draw{
			{Key: what + " high_mm", Declared: Input{trueHigh, u}, True: o.HighMm},
			{Key: what + " low_mm", Declared: Input{trueLow, u}, True: o.LowMm},
			{Key: what + " temperature_c", Declared: Input{c.restC, in.TemperatureU}, True: o.TemperatureC},
		} {
			d.Of = in.Name
			h.draws = append(h.draws, d)
		}
		return o
	}
	if in.Zero {
		h.zeros[in.Name] = take("zero", in.ZeroU, 0)
	}
	if in.Tie {
		h.ties[in.Name] = take("tie", in.TieU, in.TiePa)
	}
}

// Draws lists every input that was drawn, in the order it was drawn. A zero or tie reading counts as drawn around the
// true position.
func (h *Hall) Draws() []Draw { return h.draws }

// Settled gives the true positions in mm along the limbs, on an ideal scale, under a differential pressure in Pa with
// the liquid at liquidC in °C. It answers false for an instrument the hall does not have.
func (h *Hall) Settled(instrument string, pressurePa, liquidC float64) (highMm, lowMm float64, ok bool) {
	c := h.columns[instrument]
	if c == nil {
		return 0, 0, false
	}
	high, low := c.settle(pressurePa, liquidC)
	return high * 1e3, low * 1e3, true
}

// Observe gives what the digitizer reports for a true pressure in Pa and a true liquid temperature in °C, with the
// errors of one reading taken from r. It answers false for an instrument the hall does not have.
func (h *Hall) Observe(r *rand.Rand, instrument string, pressurePa, liquidC float64) (Observation, bool) {
	c := h.columns[instrument]
	if c == nil {
		return Observation{}, false
	}
	high, low := c.settle(pressurePa, liquidC)
	position := func(s float64) float64 {
		mm := (c.scaleReading(s, liquidC) + c.positionU*r.NormFloat64()) * 1e3
		if q := c.resolution * 1e3; q > 0 {
			mm = math.Round(mm/q) * q
		}
		return mm
	}
	return Observation{
		HighMm:       position(high),
		LowMm:        position(low),
		TemperatureC: liquidC + c.temperature*r.NormFloat64(),
	}, true
}
