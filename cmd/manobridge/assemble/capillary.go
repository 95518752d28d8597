package assemble

import (
	"fmt"
	"math"

	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/fluid"
	"manobridge/convert/quantity"
)

// wetting is how a liquid stands at the wall of a tube.
type wetting struct {
	tension, tensionU float64 // N/m
	contact, contactU float64 // °
	assumed           bool
}

// wettingOf gives the surface of a liquid, false where nothing is known of it.
func (b *builder) wettingOf(name string) (wetting, bool) {
	for i := range b.c.Liquids {
		l := &b.c.Liquids[i]
		if l.Name != name {
			continue
		}
		if l.SurfaceTensionNM == nil {
			return wetting{}, false
		}
		return wetting{*l.SurfaceTensionNM, or(l.SurfaceTensionUNM, 0.08**l.SurfaceTensionNM), or(l.ContactAngleDeg, 0), or(l.ContactAngleUDeg, 10),
			l.SurfaceTensionUNM == nil}, true
	}
	if name == "mercury" {
		// Contact angles of mercury on glass from 130 to 140° are in use; rectangular. Source: the spread of handbooks.
		return wetting{float64(fluid.MercurySurfaceTension), fluid.MercurySurfaceTensionU, 137, 5, true}, true
	}
	return wetting{}, false
}

// capillary adds the fall of pressure at each meniscus of an instrument that no zero reading corrects, with its
// uncertainty. A bore of +Inf is a cistern whose bore is not stated: wide enough for none. What is not known of a liquid is not corrected; meniscus_mm is there to say how much that may be.
func (b *builder) capillary(o *convert.Options, lowBore, highBore float64) error {
	w, known := b.wettingOf(b.in.Liquid)
	if !known || o.Zero != nil {
		return nil
	}
	at := quantity.Celsius(20)
	if t := o.Shape.Tie.Temperature; t != 0 {
		at = quantity.Temperature(t)
	}
	s, err := o.Liquid.At(at)
	if err != nil {
		return fmt.Errorf("capillarity: %w", err)
	}
	for _, limb := range []struct {
		name string
		bore float64
		fall *float64
		sign float64
	}{{"high-limb", highBore, &o.Shape.High.Capillary, 1}, {"low-limb", lowBore, &o.Shape.Low.Capillary, -1}} {
		if math.IsInf(limb.bore, 1) {
			continue
		}
		pressure := func(tension, contact float64) (float64, error) {
			m := fluid.Meniscus{Bore: quantity.Metres(limb.bore), Tension: quantity.SurfaceTension(tension), Density: s.Density, Gravity: o.Gravity.Value}
			rise, err := m.ApexRise(quantity.Degrees(contact))
			return float64(rise) * float64(s.Density) * float64(o.Gravity.Value), err
		}
		p, err := pressure(w.tension, w.contact)
		if err != nil {
			return fmt.Errorf("capillarity of the %s: %w", limb.name, err)
		}
		byTension, err1 := pressure(w.tension+w.tensionU, w.contact)
		// Towards 90°, where the angle always has room to go.
		byContact, err2 := pressure(w.tension, w.contact+math.Copysign(w.contactU, 90-w.contact))
		if err1 != nil || err2 != nil {
			return fmt.Errorf("uncertainty of the capillarity of the %s: %v %v", limb.name, err1, err2)
		}
		*limb.fall = p
		o.ShapeInputs = append(o.ShapeInputs, convert.ShapeInput{Of: convert.OfCapillary, Scale: limb.sign, Input: convert.Input{
			Name: limb.name + " capillarity", Unit: "Pa", Value: p, U: math.Hypot(byTension-p, byContact-p), DOF: math.Inf(1), Assumed: w.assumed}})
	}
	return nil
}

// pairCapillary does so for a limb pair.
func (b *builder) pairCapillary(o *convert.Options, g *configs.Geometry) error {
	return b.capillary(o, *g.Low.BoreMM/1000, *g.High.BoreMM/1000)
}
