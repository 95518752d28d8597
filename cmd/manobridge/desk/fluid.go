package desk

import (
	"errors"
	"fmt"
	"strings"

	"manobridge/cmd/manobridge/assemble"
	"manobridge/cmd/manobridge/caution"
	"manobridge/cmd/manobridge/layout"
	"manobridge/configs"
	"manobridge/convert/fluid"
	"manobridge/convert/gravity"
	"manobridge/convert/quantity"
)

// FluidAt asks for a fluid at one temperature.
type FluidAt struct {
	Name         string
	TemperatureC float64
	// PressureHPa and HumidityPct are for air alone.
	PressureHPa, HumidityPct *float64
	// Config, where not nil, adds its liquids, its ambient for air, and its local gravity.
	Config *configs.Config
}

// FluidState is what is known of a fluid at one temperature.
type FluidState struct {
	Name         string   `json:"fluid"`
	TemperatureC float64  `json:"temperature_c"`
	PressureHPa  *float64 `json:"pressure_hpa,omitempty"` // of air
	HumidityPct  *float64 `json:"humidity_pct,omitempty"`

	DensityKgM3  float64 `json:"density_kg_m3"`
	DensityUKgM3 float64 `json:"density_u_kg_m3"`
	PerKelvin    float64 `json:"density_change_kg_m3_per_k"`
	ExpansionPer float64 `json:"expansion_per_k"`

	StandardWeight float64  `json:"specific_weight_standard_n_m3"`
	LocalWeight    *float64 `json:"specific_weight_local_n_m3,omitempty"`
	LocalGravity   *float64 `json:"local_gravity_m_s2,omitempty"`

	Inputs      []FluidInput `json:"inputs"`
	ValidC      [2]float64   `json:"valid_c"`
	Source      string       `json:"source"`
	Assumptions []string     `json:"assumptions"`
	Cautions    []string     `json:"cautions"`
}

// FluidInput is one uncertain input of a fluid.
type FluidInput struct {
	Name    string  `json:"input"`
	Value   float64 `json:"value"`
	U       float64 `json:"standard_uncertainty"`
	Unit    string  `json:"unit"`
	Density float64 `json:"contribution_kg_m3"`
	Assumed bool    `json:"assumed"`
}

// OutOfRange says that the question was understood and that there is no value to give.
type OutOfRange struct{ err error }

// Error gives the reason.
func (o *OutOfRange) Error() string { return o.err.Error() }

// Unwrap gives the reason itself.
func (o *OutOfRange) Unwrap() error { return o.err }

// Fluid looks a fluid up and computes its state. The error is an *OutOfRange where its source does not vouch for one.
func Fluid(q FluidAt) (FluidState, error) {
	f, assumed, err := find(q)
	if err != nil {
		return FluidState{}, err
	}
	t := quantity.Celsius(q.TemperatureC)
	s, err := f.At(t)
	if err != nil {
		var out *fluid.RangeError
		if errors.As(err, &out) {
			return FluidState{}, &OutOfRange{err}
		}
		return FluidState{}, err
	}
	low, high := f.Range()
	st := FluidState{
		Name: q.Name, TemperatureC: q.TemperatureC, DensityKgM3: float64(s.Density), DensityUKgM3: s.DensityU(), PerKelvin: s.PerKelvin,
		ExpansionPer: float64(s.Expansion()), StandardWeight: s.SpecificWeight(gravity.Standard), Source: f.Source(),
		ValidC: [2]float64{low.Celsius(), high.Celsius()}, Inputs: []FluidInput{}, Assumptions: assumed, Cautions: fluidCautions(q.Name),
	}
	for k, in := range f.Inputs() {
		st.Inputs = append(st.Inputs, FluidInput{Name: in.Name, Value: in.Value, U: in.U, Unit: in.Unit, Density: s.Own[k], Assumed: in.Assumed})
	}
	if a, ok := f.(fluid.Air); ok {
		p, h := float64(a.Pressure())/100, float64(a.Humidity())*100
		st.PressureHPa, st.HumidityPct = &p, &h
		if a.Extended(t) {
			st.Assumptions = append(st.Assumptions, "Outside 15 to 27 °C or 600 to 1100 hPa, where the equation is vouched for: its uncertainty is widened.")
		}
	} else {
		st.Assumptions = append(st.Assumptions, "At the pressure of the atmosphere. The temperature is taken as exact; its uncertainty is yours to add, with the change per kelvin.")
	}
	if q.Config != nil {
		g, err := assemble.Gravity(q.Config.Location)
		if err != nil {
			return FluidState{}, err
		}
		w, v := s.SpecificWeight(g.Value), float64(g.Value)
		st.LocalWeight, st.LocalGravity = &w, &v
	}
	return st, nil
}

// fluidCautions are those of the fluid itself.
func fluidCautions(name string) []string {
	list := []string{}
	if name == "mercury" {
		list = append(list, caution.Mercury)
	}
	if caution.Burns(name) {
		list = append(list, caution.Flammable)
	}
	return list
}

// find gives the fluid, and what had to be assumed of it.
func find(q FluidAt) (fluid.Fluid, []string, error) {
	if q.Name == "air" {
		return findAir(q)
	}
	if q.PressureHPa != nil || q.HumidityPct != nil {
		return nil, nil, fmt.Errorf("%s: --pressure-hpa and --humidity-pct are for air alone; leave them out", q.Name)
	}
	var f fluid.Fluid
	var err error
	if q.Config != nil {
		f, err = assemble.Fluid(q.Config, q.Name)
	} else {
		f, err = fluid.Named(q.Name)
	}
	return f, []string{}, err
}

// findAir makes the air of the flags, of the configuration, or one that nobody measured.
func findAir(q FluidAt) (fluid.Fluid, []string, error) {
	pressure, humidity, assumed := q.PressureHPa, q.HumidityPct, []string{}
	if q.Config != nil {
		a := q.Config.Ambient
		if pressure == nil {
			pressure, assumed = a.PressureHPa, append(assumed, "The pressure is that of the configuration's ambient.")
		}
		if humidity == nil {
			humidity, assumed = a.RelativeHumidityPct, append(assumed, "The humidity is that of the configuration's ambient.")
		}
	}
	o := fluid.AirOptions{Pressure: 101325, PressureU: fluid.Stated(3000), Humidity: 0.5, HumidityU: fluid.Stated(0.29)}
	if pressure == nil {
		assumed = append(assumed, "No pressure given: 1013.25 hPa, u = 30 hPa, air anywhere below 500 m.")
	} else {
		o.Pressure, o.PressureU = quantity.AbsolutePressure(*pressure*100), fluid.Uncertainty{}
	}
	if humidity == nil {
		assumed = append(assumed, "No humidity given: 50 %, u = 29 %, anything from dry to saturated.")
	} else {
		o.Humidity, o.HumidityU = quantity.Ratio(*humidity/100), fluid.Uncertainty{}
	}
	a, err := fluid.NewAir(o)
	var out *fluid.RangeError
	if errors.As(err, &out) {
		return nil, nil, &OutOfRange{err}
	}
	assumed = append(assumed, "400 ppm of carbon dioxide.")
	return a, assumed, err
}

// String gives the state as text.
func (s FluidState) String() string {
	var b strings.Builder
	head := fmt.Sprintf("%s at %g °C", s.Name, s.TemperatureC)
	if s.PressureHPa != nil {
		head += fmt.Sprintf(", %g hPa, %g %% relative humidity", *s.PressureHPa, *s.HumidityPct)
	}
	b.WriteString(layout.Wrap("", "  ", head))
	b.WriteString(layout.Labelled("density", fmt.Sprintf("%.8g kg/m³, standard uncertainty %.2g kg/m³ (%.2g %%)", s.DensityKgM3, s.DensityUKgM3, 100*s.DensityUKgM3/s.DensityKgM3)))
	b.WriteString(layout.Labelled("per kelvin", fmt.Sprintf("%.4g kg/m³, %.4g %% of the density", s.PerKelvin, 100*s.PerKelvin/s.DensityKgM3)))
	b.WriteString(layout.Labelled("expansion", fmt.Sprintf("%.5g 1/K by volume, at this temperature", s.ExpansionPer)))
	b.WriteString(layout.Labelled("weight", fmt.Sprintf("%.6g N/m³ (Pa per metre) at standard gravity, %g m/s²", s.StandardWeight, gravity.Standard)))
	if s.LocalWeight != nil {
		b.WriteString(layout.Labelled("", fmt.Sprintf("%.6g N/m³ at the local %.5f m/s²", *s.LocalWeight, *s.LocalGravity)))
	}
	b.WriteString(layout.Labelled("valid", fmt.Sprintf("%g to %g °C", round(s.ValidC[0]), round(s.ValidC[1]))))
	b.WriteString(layout.Labelled("source", s.Source) + "\n")
	var t layout.Table
	t.Head("uncertainty from (* assumed)", "value", "u", "unit", "kg/m³")
	for _, in := range s.Inputs {
		name := in.Name
		if in.Assumed {
			name += " *"
		}
		t.Row(name, figure(in.Value, 6), figure(in.U, 3), in.Unit, fmt.Sprintf("%+.2g", in.Density+0)) // no "-0"
	}
	b.WriteString(t.String())
	b.WriteString(layout.List("Assumed", s.Assumptions))
	b.WriteString(layout.List("Cautions", s.Cautions))
	return b.String()
}
