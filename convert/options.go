package convert

import (
	"manobridge/convert/fluid"
	"manobridge/convert/geometry"
	"manobridge/convert/gravity"
	"manobridge/convert/quantity"
)

// Options describes one instrument to New. It is read once; changing it later has no effect.
type Options struct {
	Instrument string
	// Config is the hash of the coefficient set, copied into every result.
	Config string

	Shape *geometry.TwoLimb
	// ShapeInputs are the uncertain inputs of the shape (slope, bores, tap heights…), at most one per thing measured.
	ShapeInputs []ShapeInput

	Liquid            fluid.Fluid
	LiquidAtLine      bool // the liquid is a gas at a stated line pressure, on top of an inverted U-tube
	HighOver, LowOver Leg
	// Line is what stands over the chambers of a two-liquid instrument; its Fluid is nil elsewhere.
	Line Leg

	// Sealed makes the result an absolute pressure: the walk ends in vapour. Nil elsewhere.
	Sealed *Sealed
	// Engraved is a scale in a unit of pressure; nil where positions are lengths.
	Engraved *Engraved

	Gravity gravity.Gravity
	Ambient Ambient

	// Zero is the reading with both ports joined to the same place; the pressure the walk gives there is subtracted.
	Zero *Zero
	// TieSeparate says that Shape.Tie was seen on its own and is not the zero reading. TieNames says what its two positions
	// are called where they are no pair, as the neutral reading of a cistern.
	TieSeparate bool
	TieNames    [2]string

	HighScale, LowScale Span            // of the positions as read, m
	Range               *Span           // of the pressure, Pa; nil where not stated
	Temperature         TemperatureRule // of the liquid
	Tilt                quantity.Angle  // of the base, where no live channel gives it

	U Uncertainties
}

// Uncertainties are the standard uncertainties of what is read; those of the shape are ShapeInputs, those of a fluid are
// the fluid's own.
type Uncertainties struct {
	High, Low LimbUncertainties
	// Resolution is the step of the digitizer, not a standard uncertainty; 0 where it is in that of the position.
	Resolution quantity.Length
	// Meniscus is what a zero reading does not remove: finding the meniscus, and how the tube is wetted; in height.
	Meniscus Stated[quantity.Length]

	Temperature     Stated[quantity.TemperatureDifference] // of the liquid, with each reading
	ZeroTemperature Stated[quantity.TemperatureDifference]
	TieTemperature  Stated[quantity.TemperatureDifference]
}

// LimbUncertainties are those of the positions of one limb.
type LimbUncertainties struct {
	Position, Zero, Tie Stated[quantity.Length]
	// Extra is of readings that bring an uncertainty of their own, Reading.HighExtra or LowExtra. Where it is nil, none is
	// counted.
	Extra *ExtraInput
}

// ExtraInput is the uncertain input that Extra of a reading is.
type ExtraInput struct {
	// Name says what it comes from, after "low-limb position": "from its signal".
	Name string
	// Typical is what a budget takes, which is of no reading.
	Typical Extra
}

// Stated is a standard uncertainty with its degrees of freedom and whether the user stated it.
type Stated[T any] struct {
	U       T
	DOF     float64 // 0 means infinite
	Assumed bool    // our default; `check` lists it
}

// Span is a closed interval in SI units.
type Span struct{ Low, High float64 }

// Leg is the fluid between one meniscus and its tap.
type Leg struct {
	Fluid fluid.Fluid
	// At says whose temperature it has.
	At LegTemperature
	// Fixed is its own temperature where At is OwnTemperature.
	Fixed  quantity.Temperature
	FixedU Stated[quantity.TemperatureDifference]
	// LinePressure says that the gas is at a stated line pressure, which a live barometer does not change.
	LinePressure bool
}

// LegTemperature says whose temperature a leg has.
type LegTemperature uint8

// The three possibilities.
const (
	AmbientTemperature LegTemperature = iota
	LiquidTemperature
	OwnTemperature
)

// Ambient is the air around the instrument. Its pressure and humidity are inputs of the fluid made of it.
type Ambient struct {
	Temperature  quantity.Temperature
	TemperatureU Stated[quantity.TemperatureDifference]
}

// Zero is one reading with both ports joined. A position that the instrument does not digitize is not used.
type Zero struct {
	High, Low   quantity.Length
	Temperature quantity.Temperature
	// Tilt is that of the base when the zero was taken.
	Tilt quantity.Angle
}

// TemperatureRule says where the liquid's temperature comes from.
type TemperatureRule struct {
	// Live says that a channel gives it with the reading.
	Live bool
	// Ambient says that the liquid is taken to have the temperature of the room, live where that is. Its uncertainty is
	// stated as the liquid's own; that the two go together is left out.
	Ambient bool
	// Fixed is the configured temperature: the value itself where Live is false, a stand-in that makes the result
	// uncertain where it is true.
	Fixed Optional[quantity.Temperature]
}

// Sealed is what stands over the closed surface.
type Sealed struct {
	// Vapour gives the pressure of the vapour in Pa and its change per kelvin.
	Vapour func(quantity.Temperature) (pressure, perKelvin float64)
	// VapourU is the standard uncertainty of the pressure there in Pa: that of the vapour, and of gas left in it.
	VapourU Stated[float64]
}

// Engraved turns the marks of a scale in a unit of pressure into heights of its liquid.
type Engraved struct {
	Unit string
	// PerUnit is the height of one of the unit, m, by what the scale was made for.
	PerUnit float64
}

// ShapeInput is one uncertain input of the shape in the unit a person measures it in.
type ShapeInput struct {
	Input
	Of  ShapeOf
	Var geometry.Var // where Of is OfVar
	// Scale is ∂Var/∂x in SI per Unit: π/180 for a slope in degrees, 2r/d·10⁻³ for a bore in mm that makes an area ratio.
	Scale float64
}

// ShapeOf says what an input of the shape changes.
type ShapeOf uint8

// The possibilities.
const (
	OfVar            ShapeOf = iota
	OfMarks                  // every height of an engraved scale, by the share Scale per Unit
	OfPointHeights           // the height of each point of a bent tube, independently; Scale in m per Unit
	OfPointDistances         // the distance along of each point; Scale in m per Unit
	OfZeroDistance           // the distance of the zero mark from the axis of the other limb; Scale in m per Unit
	OfCapillary              // the pressure itself, at a meniscus that no zero corrects; Scale in Pa per Unit
)

// Input is one uncertain input of an instrument's equation.
type Input struct {
	Name    string // in the words of the bench
	Unit    string
	Value   float64 // best estimate in Unit; for a position, that of the zero or NaN where it changes with every reading
	U       float64 // standard uncertainty in Unit
	DOF     float64 // degrees of freedom; +Inf where the uncertainty is taken as known
	Assumed bool    // our default, not the user's statement
}
