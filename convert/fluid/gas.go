package fluid

import "manobridge/convert/quantity"

// Gas is a gas of one stated density, whatever the temperature: nitrogen at the pressure of a line, say.
type Gas struct {
	name, source string
	rho, uRho    float64
	assumed      bool
	within       span
}

// GasOptions describes a Gas.
type GasOptions struct {
	Name     string
	Source   string           // may be empty
	Density  quantity.Density // 0 to 500 kg/m³
	DensityU Uncertainty      // standard, in kg/m³; left out, DefaultGasU of the density

	// Low and High bound the range the density holds for; both 0 means 0 to 50 °C.
	Low, High quantity.Temperature
}

// DefaultGasU is relative: a gas at a pressure and a temperature known to a few per cent. Common practice, no source.
const DefaultGasU = 0.05

// NewGas makes a Gas.
func NewGas(o GasOptions) (Gas, error) {
	g := Gas{name: o.Name, source: o.Source, rho: float64(o.Density), within: span{o.Low, o.High}}
	if g.source == "" {
		g.source = "as configured"
	}
	if o.Low == 0 && o.High == 0 {
		g.within = celsiusSpan(0, 50)
	}
	if !(g.rho >= 0 && g.rho <= 500) {
		return Gas{}, &RangeError{Fluid: g.name, Quantity: "density", Unit: "kg/m³", Seen: g.rho, High: 500, Source: "limits for a gas"}
	}
	if !(g.within.low >= 0 && g.within.low <= g.within.high && finite(float64(g.within.high))) {
		return Gas{}, &RangeError{Fluid: g.name, Quantity: "high end of the range", Unit: "°C", Seen: g.within.high.Celsius(),
			Low: g.within.low.Celsius(), High: 400, Source: "limits for a gas"}
	}
	if err := o.DensityU.ok("the density of " + o.Name); err != nil {
		return Gas{}, err
	}
	g.uRho, g.assumed = o.DensityU.or(DefaultGasU * g.rho)
	return g, nil
}

// Vapour is what stands over a sealed column: the liquid's own vapour, without weight. That of mercury at 30 °C is
// 3e-5 kg/m³; its pressure is another matter, see MercuryVapourPressure.
func Vapour(of string) Gas {
	return Gas{name: of + "-vapour", source: "taken as weightless", within: celsiusSpan(-20, 100)}
}

// Name implements Fluid.
func (g Gas) Name() string { return g.name }

// Source implements Fluid.
func (g Gas) Source() string { return g.source }

// Range implements Fluid.
func (g Gas) Range() (low, high quantity.Temperature) { return g.within.low, g.within.high }

// Inputs implements Fluid.
func (g Gas) Inputs() []Input {
	return []Input{{Name: "gas density", Value: g.rho, Unit: "kg/m³", U: g.uRho, Assumed: g.assumed}}
}

// At implements Fluid.
func (g Gas) At(t quantity.Temperature) (State, error) {
	if !g.within.has(t) {
		return State{}, g.within.refuse(g.name, g.source, t)
	}
	s := State{Density: quantity.Density(g.rho)}
	s.Own[0] = g.uRho
	return s, nil
}
