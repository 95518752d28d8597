package desk

import (
	"math"

	"manobridge/convert"
	"manobridge/convert/geometry"
)

// shapeMove moves a dimension of the shape as a person measures it: a bore enters an area squared, a rise over length
// through its arc sine.
func shapeMove(in convert.ShapeInput) move {
	if in.Of != convert.OfVar {
		return nil
	}
	switch in.Var {
	case geometry.AreaRatio:
		return areaMove(in)
	case geometry.ChamberRatio:
		factor := ratioFactor(in)
		return func(t *trial, dx float64) { t.shape.Chambers.Ratio *= factor(t.shape.Chambers.Ratio, dx) }
	case geometry.HighSlope:
		return func(t *trial, dx float64) { t.shape.High.Slope = slope(in, t.shape.High.Slope, dx) }
	case geometry.LowSlope:
		return func(t *trial, dx float64) { t.shape.Low.Slope = slope(in, t.shape.Low.Slope, dx) }
	case geometry.Gravity:
		return func(t *trial, dx float64) { t.gravity += dx * in.Scale }
	case geometry.Tilt:
		return func(t *trial, dx float64) { t.tilt += dx * in.Scale }
	}
	field := shapeField(in.Var)
	if field == nil {
		return nil
	}
	return func(t *trial, dx float64) { *field(&t.shape) += dx * in.Scale }
}

// slope is an angle in rad moved by dx in the input's unit.
func slope(in convert.ShapeInput, theta, dx float64) float64 {
	if in.Unit == "1" {
		return math.Asin(math.Sin(theta) + dx)
	}
	return theta + dx*in.Scale
}

// shapeField finds a variable that is a field of the shape.
func shapeField(v geometry.Var) func(m *geometry.TwoLimb) *float64 {
	switch v {
	case geometry.HighScaleZero:
		return func(m *geometry.TwoLimb) *float64 { return &m.High.ScaleZero }
	case geometry.LowScaleZero:
		return func(m *geometry.TwoLimb) *float64 { return &m.Low.ScaleZero }
	case geometry.HighTap:
		return func(m *geometry.TwoLimb) *float64 { return &m.High.Tap }
	case geometry.LowTap:
		return func(m *geometry.TwoLimb) *float64 { return &m.Low.Tap }
	case geometry.ScaleExpansion:
		return func(m *geometry.TwoLimb) *float64 { return &m.ScaleExpansion }
	case geometry.CrossTilt:
		return func(m *geometry.TwoLimb) *float64 { return &m.CrossTilt }
	case geometry.ChargeVolume:
		return func(m *geometry.TwoLimb) *float64 { return &m.ChargeVolume }
	case geometry.BodyExpansion:
		return func(m *geometry.TwoLimb) *float64 { return &m.BodyExpansion }
	}
	return nil
}

// areaMove changes the ratio of areas through the bore area of the limb that is read.
func areaMove(in convert.ShapeInput) move {
	factor := ratioFactor(in)
	return func(t *trial, dx float64) {
		read, other := &t.shape.Low, &t.shape.High
		if t.shape.High.Digitized {
			read, other = other, read
		}
		read.BoreArea *= factor(read.BoreArea/other.BoreArea, dx)
	}
}

// ratioFactor is what a ratio of areas is multiplied by. A bore of Value mm that makes it grow (Scale above 0) enters it
// squared, the other by its inverse square; a ratio stated as such is moved itself.
func ratioFactor(in convert.ShapeInput) func(ratio, dx float64) float64 {
	if in.Unit != "mm" || !(in.Value > 0) {
		return func(ratio, dx float64) float64 { return 1 + dx*in.Scale/ratio }
	}
	return func(_, dx float64) float64 {
		f := math.Pow(1+dx/in.Value, 2)
		if in.Scale < 0 {
			return 1 / f
		}
		return f
	}
}
