package simulate

import "time"

// Kind is the kind of instrument, in the words of the configuration.
type Kind string

// The three kinds simulated.
const (
	UTube             Kind = "u-tube"
	InclinedReservoir Kind = "inclined-reservoir"
	LimbPair          Kind = "limb-pair"
)

// Water is the name of the built-in liquid; every other liquid is described in Declared.Liquids.
const Water = "water"

// Declared is a hall as its owner wrote it down. Nothing in it is true yet.
type Declared struct {
	Site, Bridge string
	Gravity      Input // m/s²
	Ambient      Ambient
	Liquids      []Liquid
	// WaterU is the relative standard uncertainty of the density of the bench's water. The configuration has no key for
	// it: the bridge's built-in water brings its own.
	WaterU      float64
	Ports       []Port
	Instruments []Instrument
	// Story tells what really happens in the hall, from the seed.
	Story func(seed uint64) Story
}

// Story is what really happens, as a pure function of the time since the start.
type Story interface {
	// PressurePa is the true differential pressure at the taps of an instrument, in Pa.
	PressurePa(instrument string, at time.Duration) float64
	// LiquidC is the true temperature of the liquid in an instrument, in °C.
	LiquidC(instrument string, at time.Duration) float64
}

// Ambient is the air in the legs.
type Ambient struct {
	TemperatureC Input // °C, 0 to 40
	PressureHPa  Input // station pressure, hPa
	HumidityPct  Input // relative humidity, %
}

// Liquid is a liquid the owner has described. Its volume grows linearly with temperature.
type Liquid struct {
	Name          string
	DensityKgM3   Input   // at ReferenceC
	ReferenceC    float64 // °C, exact
	ExpansionPerK Input
}

// Port is one serial line with a digitizer that scans its instruments in turn.
type Port struct {
	Name   string
	Baud   int
	Period time.Duration // from scan to scan; every instrument is reported once in a scan
	// BothLimbs says that frames carry high_mm beside low_mm.
	BothLimbs bool
}

// Limb is one arm. Heights are vertical, above one common level.
type Limb struct {
	SlopeDeg          Input // above horizontal, 0 < slope ≤ 90
	BoreMm            Input
	ScaleZeroHeightMm Input
	TapHeightMm       Input
	Over              string     // the liquid between meniscus and tap; empty: the ambient air
	ScaleMm           [2]float64 // first and last mark; unused where the limb has no scale
}

// Instrument is one manometer with its digitizer.
type Instrument struct {
	Name, Port, Address string
	About               string // one line for a person reading the configuration
	Kind                Kind
	Liquid              string
	High, Low           Limb // of an inclined-reservoir the reservoir is High: vertical, wide, without a scale
	ScaleExpansionPerK  Input
	ScaleReferenceC     float64
	// ChargeMl is the volume of liquid, for its thermal expansion since the zero; 0: the volume is taken as constant.
	ChargeMl          Input
	BodyExpansionPerK Input // linear, of the body that holds the charge

	RestMm float64 // where the low meniscus really stands without pressure, at RestC
	RestC  float64 // the true temperature of the liquid when zero and tie were taken
	Zero   bool    // a zero is declared
	Tie    bool    // a tie is declared
	TiePa  float64 // the true pressure, unknown to the owner, at which the tie was taken

	// What one reading is worth: standard uncertainties, and the step the digitizer rounds positions to.
	PositionU, ZeroU, TieU, TemperatureU float64 // mm, mm, mm, °C
	ResolutionMm                         float64

	RangePa [2]float64
}

// digitizes tells which positions the instrument's frames carry.
func (d *Declared) digitizesHigh(in *Instrument) bool {
	for i := range d.Ports {
		if d.Ports[i].Name == in.Port {
			return d.Ports[i].BothLimbs
		}
	}
	return false
}
