package desk

import (
	"fmt"
	"math"

	"manobridge/cmd/manobridge/caution"
	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/quantity"
)

// Explanation is one conversion laid open, column by column.
type Explanation struct {
	Instrument string     `json:"instrument"`
	Title      string     `json:"-"`
	Kind       string     `json:"kind"`
	Equation   string     `json:"equation"`
	Conditions Conditions `json:"conditions"`

	Now  Walk  `json:"now"`
	Zero *Walk `json:"zero,omitempty"`

	DifferentialPa *float64 `json:"differential_pressure_pa,omitempty"`
	AbsolutePa     *float64 `json:"absolute_pressure_pa,omitempty"`
	// VapourPa is what stands over a closed surface, added to the walk.
	VapourPa       *float64 `json:"vapour_pa,omitempty"`
	ExpandedUPa    float64  `json:"expanded_uncertainty_pa"`
	CoverageFactor float64  `json:"coverage_factor"`
	HeadMM         *float64 `json:"head_mm,omitempty"`
	Status         string   `json:"status"`
	Causes         []string `json:"causes"`

	Assumptions []string `json:"assumptions"`
	Cautions    []string `json:"cautions"`
}

// Conditions are what the columns were computed with, and where each comes from.
type Conditions struct {
	LiquidC       float64 `json:"liquid_temperature_c"`
	LiquidFrom    string  `json:"liquid_temperature_from"`
	AmbientC      float64 `json:"ambient_temperature_c"`
	PressureHPa   float64 `json:"ambient_pressure_hpa"`
	HumidityPct   float64 `json:"ambient_humidity_pct"`
	AmbientFrom   string  `json:"ambient_from"`
	AirKgM3       float64 `json:"air_density_kg_m3"`
	GravityMS2    float64 `json:"gravity_m_s2"`
	GravityUMS2   float64 `json:"gravity_u_m_s2"`
	GravityFrom   string  `json:"gravity_from"`
	LinePressure  bool    `json:"line_pressure_stated"`
	TiltDeg       float64 `json:"tilt_deg"`
	ambientExtend bool
}

// Walk is one way through the instrument, from the tap of the high limb to the tap of the low limb.
type Walk struct {
	TemperatureC float64  `json:"liquid_temperature_c"`
	Columns      []Column `json:"columns"`
	Jumps        []Jump   `json:"menisci"`
	SumPa        float64  `json:"sum_pa"`
	ClosedPa     float64  `json:"closed_form_pa"`
	DifferencePa float64  `json:"difference_pa"`
	largest      float64
}

// Column is one fluid between two heights. Sign tells whether it adds to p(high) − p(low) or takes away from it.
type Column struct {
	Fluid          string  `json:"fluid"`
	DensityKgM3    float64 `json:"density_kg_m3"`
	FromMM         float64 `json:"from_mm"`
	ToMM           float64 `json:"to_mm"`
	Sign           string  `json:"sign"`
	ContributionPa float64 `json:"contribution_pa"`
}

// Jump is the step of pressure at one curved meniscus.
type Jump struct {
	Limb           string  `json:"limb"`
	Sign           string  `json:"sign"`
	ContributionPa float64 `json:"contribution_pa"`
}

// Explain converts what was read and lays the arithmetic open. The error is a *convert.Refusal where the reading gives no
// value.
func (b *Bench) Explain(g Given) (Explanation, error) {
	r, err := b.Reading(g)
	if err != nil {
		return Explanation{}, err
	}
	x, err := b.converter.Explain(r)
	if err != nil {
		return Explanation{}, err
	}
	res := &x.Result
	out := Explanation{
		Instrument: b.instrument.Name, Title: b.title(), Kind: b.converter.Kind(), Equation: b.converter.Equation(),
		ExpandedUPa: res.ExpandedU, CoverageFactor: res.CoverageFactor, Status: res.Status.String(), Causes: causes(res),
		Now: walk(&x.Now), Cautions: caution.For(b.liquids()...),
	}
	p, _ := res.Pressure()
	if res.Kind == convert.AbsoluteValue {
		out.AbsolutePa = &p
	} else {
		out.DifferentialPa = &p
	}
	if res.Head.Set {
		mm := res.Head.V.Millimetres()
		out.HeadMM = &mm
	}
	if x.Zero != nil {
		z := walk(x.Zero)
		out.Zero = &z
	}
	if b.options.Sealed != nil {
		v, _ := b.options.Sealed.Vapour(res.Temperature.V)
		out.VapourPa = &v
	}
	if out.Conditions, err = b.conditions(g, res); err != nil {
		return Explanation{}, err
	}
	out.Assumptions = b.assumptions(out.Conditions.ambientExtend)
	return out, nil
}

// walk lists the columns of one side with their signs.
func walk(s *convert.Side) Walk {
	g := float64(s.Gravity)
	w := Walk{TemperatureC: s.Temperature.Celsius(), Columns: []Column{}, Jumps: []Jump{}, ClosedPa: s.Evaluated,
		SumPa: s.Walk.Difference(g), largest: s.Walk.Largest(g)}
	w.DifferencePa = w.SumPa - w.ClosedPa
	for i, c := range s.Walk.Columns {
		pa := c.Contribution(g)
		w.Columns = append(w.Columns, Column{Fluid: s.Fluids[i], DensityKgM3: c.Density, FromMM: c.From * 1000, ToMM: c.To * 1000,
			Sign: sign(pa), ContributionPa: pa})
	}
	for _, j := range s.Walk.Jumps {
		w.Jumps = append(w.Jumps, Jump{Limb: j.Limb, Sign: sign(j.Pressure), ContributionPa: j.Pressure})
	}
	return w
}

// sign is that of a contribution, as printed.
func sign(v float64) string {
	switch {
	case v > 0:
		return "+"
	case v < 0:
		return "−"
	}
	return "0"
}

// conditions gathers what was used and says where it came from.
func (b *Bench) conditions(g Given, res *convert.Result) (Conditions, error) {
	grav := b.options.Gravity
	amb := b.config.Ambient
	c := Conditions{
		LiquidC: res.Temperature.V.Celsius(), AmbientC: or(g.AmbientC, *amb.TemperatureC), PressureHPa: or(g.PressureHPa, *amb.PressureHPa),
		HumidityPct: or(g.HumidityPct, *amb.RelativeHumidityPct), AmbientFrom: "ambient of the configuration",
		GravityMS2: float64(grav.Value), GravityUMS2: grav.U, GravityFrom: grav.Source,
		LinePressure: b.options.HighOver.LinePressure || b.options.LowOver.LinePressure,
		TiltDeg:      or(g.TiltDeg, b.options.Tilt.Degrees()),
	}
	if g.AmbientC != nil || g.PressureHPa != nil || g.HumidityPct != nil {
		c.AmbientFrom = "as given, the rest from the configuration"
	}
	c.LiquidFrom = b.temperatureFrom(g)
	air, err := b.air()
	if err != nil {
		return c, err
	}
	air = air.With(quantity.AbsolutePressure(c.PressureHPa*100), quantity.Ratio(c.HumidityPct/100))
	t := quantity.Celsius(c.AmbientC)
	s, err := air.At(t)
	if err != nil {
		return c, fmt.Errorf("ambient air: %w", err)
	}
	c.AirKgM3, c.ambientExtend = float64(s.Density), air.Extended(t)
	return c, nil
}

// temperatureFrom says whose word the liquid's temperature is.
func (b *Bench) temperatureFrom(g Given) string {
	rule := b.options.Temperature
	switch {
	case rule.Live && g.TemperatureC != nil:
		return "as given"
	case !rule.Fixed.Set:
		return "as given"
	case rule.Live:
		return "temperature: fixed_c of the configuration, in place of a measured one"
	case g.TemperatureC != nil:
		return "temperature of the configuration, which is fixed: the one given is not used"
	}
	return "temperature of the configuration, which is fixed"
}

func or(p *float64, otherwise float64) float64 {
	if p != nil {
		return *p
	}
	return otherwise
}

// assumptions are those of the model, for this instrument.
func (b *Bench) assumptions(airExtended bool) []string {
	list := []string{"Each fluid has one temperature, so one density, over the whole of its column; gravity is the same throughout."}
	m := b.options.Shape
	kind := b.instrument.Geometry.Kind
	if m.High.Digitized != m.Low.Digitized && kind != configs.Graduated && !math.IsInf(m.High.BoreArea, 1) {
		list = append(list, "The limb that is not read follows from equal displaced volumes: uniform bores, no liquid lost since the zero or the tie.")
	}
	switch {
	case b.instrument.Legs != nil || b.instrument.Geometry.High != nil:
	case kind == configs.Sealed:
		list = append(list, "No line is stated: the pressure is that at the open surface.")
	case kind == configs.InvertedUTube:
		list = append(list, "Taps are level. Their height is not stated and cancels; the one shown is a height below both scales.")
	default:
		list = append(list, "Taps are level. Their height is not stated and cancels; the one shown is a height above both scales.")
	}
	if b.instrument.ScaleExpansionPerK == nil {
		list = append(list, "The scale is taken not to expand: scale_expansion_per_k is not stated.")
	}
	if kind == configs.Graduated {
		list = append(list, "A mark of the scale is the height of a column of the liquid it was made for; heights count from the zero reading.")
	}
	if b.options.Zero != nil {
		list = append(list, "Capillarity is that of the zero reading and cancels, as long as the tube is wetted alike.")
	}
	if airExtended {
		list = append(list, "The air is outside 15 to 27 °C or 600 to 1100 hPa, where the CIPM-2007 equation is vouched for; its uncertainty is widened.")
	}
	return list
}
