package position

import (
	"fmt"
	"math"

	"manobridge/convert"
	"manobridge/convert/quantity"
)

// DistanceOptions describes a sensor over the liquid, ultrasonic or laser, that sends how far below it the surface is. An
// ultrasonic one must correct for the temperature of the air itself: the speed of sound changes by 0.17 % per kelvin
// (that of an ideal gas goes with the root of the absolute temperature), and nothing here corrects it.
type DistanceOptions struct {
	Reference quantity.Length // the position along the scale that is level with the face of the sensor
	Blanking  quantity.Length // what is nearer gives no true distance
	Farthest  quantity.Length // the end of its range
	U         quantity.Length // standard uncertainty of the position, from the reference and the sensor together
	Step      quantity.Length // the smallest change it can show; 0 where it does not matter
}

// Distance works positions out from distances: reference less distance. It is safe for concurrent use.
type Distance struct{ o DistanceOptions }

// NewDistance checks the figures.
func NewDistance(o DistanceOptions) (*Distance, error) {
	if !(o.Blanking >= 0) || !(o.Farthest > o.Blanking) || !(o.U >= 0) || !(o.Step >= 0) {
		return nil, fmt.Errorf("blanking %g mm, farthest %g mm, uncertainty %g mm, step %g mm: each is 0 or more, and the farthest is beyond the blanking",
			o.Blanking.Millimetres(), o.Farthest.Millimetres(), o.U.Millimetres(), o.Step.Millimetres())
	}
	return &Distance{o: o}, nil
}

// Position implements Limb. The signal is in mm.
func (d *Distance) Position(name string, signal float64, _ *convert.Camera) (at quantity.Length, extra convert.Extra, note, refusal *convert.Refusal) {
	away := quantity.Millimetres(signal)
	refuse := func(code convert.Cause, check string) *convert.Refusal {
		return &convert.Refusal{Code: code, Field: name + " distance", Seen: text(signal, "mm"),
			Allowed: span(d.o.Blanking.Millimetres(), d.o.Farthest.Millimetres(), "mm"), Check: check}
	}
	switch {
	case away < d.o.Blanking:
		return 0, extra, nil, refuse(convert.EchoTooNear, "that nothing stands in front of the sensor; nearer than its blanking distance it measures nothing")
	case away > d.o.Farthest:
		return 0, extra, nil, refuse(convert.SignalOffPoints, "the column, and that the sensor looks at it")
	}
	return d.o.Reference - away, d.Typical(), nil, nil
}

// Typical implements Limb; it is that of every reading. A step is rectangular, one wide: JCGM 100:2008, F.2.2.1.
func (d *Distance) Typical() convert.Extra {
	return convert.Extra{U: quantity.Length(math.Hypot(float64(d.o.U), float64(d.o.Step)/math.Sqrt(12)))}
}
