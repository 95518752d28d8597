package secondway

import (
	"fmt"
	"math"
)

// limb is one arm, in the room and at one temperature. Its centre line is given by vertices, along and height; beyond
// the first and the last the end stretches run on.
type limb struct {
	along, height []float64 // m, at least two each, along rising
	area          float64   // m², of the bore
	fill          float64   // m³ above along = 0 when filled (negative below)
	over          float64   // kg/m³, of what stands between meniscus and tap
	tap           float64   // m
	jump          float64   // Pa, by which the pressure falls on entering the liquid
}

// stretch gives the index of the piece of centre line that holds s.
func (l *limb) stretch(s float64) int {
	i := 0
	for i < len(l.along)-2 && s > l.along[i+1] {
		i++
	}
	return i
}

// level is the height of the meniscus that stands at s along the limb.
func (l *limb) level(s float64) float64 {
	i := l.stretch(s)
	return l.height[i] + (s-l.along[i])*(l.height[i+1]-l.height[i])/(l.along[i+1]-l.along[i])
}

// volume is the liquid above along = 0 with the meniscus at s; position is its inverse. The bore is uniform.
func (l *limb) volume(s float64) float64   { return l.area * s }
func (l *limb) position(v float64) float64 { return v / l.area }

// down walks through liquid from the meniscus at s to the foot of the limb, vertex by vertex; up is the way back.
func (l *limb) down(w *walk, rho, s float64) {
	z := l.level(s)
	for i := l.stretch(s); i > 0; i-- {
		w.climb(rho, z, l.height[i])
		z = l.height[i]
	}
	w.climb(rho, z, l.height[0])
}

func (l *limb) up(w *walk, rho, s float64) {
	last := l.stretch(s)
	z := l.height[0]
	for i := 1; i <= last; i++ {
		w.climb(rho, z, l.height[i])
		z = l.height[i]
	}
	w.climb(rho, z, l.level(s))
}

// vessel is two limbs joined at their feet, holding one liquid.
type vessel struct {
	high, low limb
	g, rho    float64
	excess    float64 // m³ of liquid more than the two fills, by expansion
}

// places gives the two menisci when the volume x has gone from the high limb into the low one.
func (v *vessel) places(x float64) (high, low float64) {
	return v.high.position(v.high.fill - x), v.low.position(v.low.fill + x + v.excess)
}

// rise is p(low) − p(high) found by walking the path with the menisci where x puts them.
func (v *vessel) rise(x float64) float64 {
	h, l := v.places(x)
	w := walk{g: v.g}
	w.climb(v.high.over, v.high.tap, v.high.level(h))
	w.add(-v.high.jump)
	v.high.down(&w, v.rho, h)
	w.climb(v.rho, v.high.height[0], v.low.height[0]) // the joining piece, foot to foot
	v.low.up(&w, v.rho, l)
	w.add(v.low.jump)
	w.climb(v.low.over, v.low.level(l), v.low.tap)
	return w.pressure()
}

// solve gives the two places at which p(high) − p(low) = dp.
func (v *vessel) solve(dp float64) (high, low float64, err error) {
	if err := finite("the pressure difference", dp); err != nil {
		return 0, 0, err
	}
	narrow := min(v.high.area, v.low.area)
	x, err := balance(func(x float64) float64 { return dp + v.rise(x) }, 0.01*narrow, 1e-19*narrow)
	if err != nil {
		return 0, 0, err
	}
	high, low = v.places(x)
	return high, low, nil
}

// head is the height of the low meniscus above the high one.
func (v *vessel) head(high, low float64) float64 { return v.low.level(low) - v.high.level(high) }

// arm describes a straight limb in the frame of the body: its scale zero at x along the base and z above it, rising at
// slope, leaning to +x (lean 1) or to −x (lean −1).
type arm struct {
	x, z, slope, lean float64
	bore              float64
	fill              float64 // m along the limb, the meniscus when filled
	leg               Leg
}

// pose puts heights of the body into the room.
func (t Tilt) pose(x, z float64) float64 {
	return (x*math.Sin(t.In) + z*math.Cos(t.In)) * math.Cos(t.Across)
}

// state is one moment: the temperature, how the base stands, and how much liquid and body have grown since the fill.
type state struct {
	set   Setting
	t     float64 // K now
	tilt  Tilt
	fillT float64 // K, when the fills held
}

// bodyGrown is the factor by which lengths of the body have grown; 1 where nothing is said about the charge, and for
// bores and lengths held fixed.
func (s state) bodyGrown() float64 {
	if s.set.Charge.Volume == 0 || s.set.Charge.FixedBores {
		return 1
	}
	return 1 + s.set.Charge.BodyExpansion*(s.t-s.fillT)
}

// excess is the liquid that has come above the scale zeros since the fill, when filled was there then. The charge has
// its mass, so its volume is V·ρ(then)/ρ(now); the hollow below the zeros has grown by the cube.
func (s state) excess(liquid Liquid, filled float64) float64 {
	c := s.set.Charge
	if c.Volume == 0 {
		return 0
	}
	k := 1 + c.BodyExpansion*(s.t-s.fillT)
	swollen := c.Volume * liquid.At(s.fillT) / liquid.At(s.t)
	hollow := (c.Volume - filled) * k * k * k
	if c.FixedBores { // the hollow is counted up to the rest level, what is above it does not grow
		hollow = c.Volume*k*k*k - filled
	}
	return swollen - hollow - filled
}

// straight turns an arm into a limb of this moment.
func (s state) straight(a arm) limb {
	k := s.bodyGrown()
	foot := s.tilt.pose(k*a.x, k*a.z)
	end := s.tilt.pose(k*a.x+a.lean*math.Cos(a.slope), k*a.z+math.Sin(a.slope))
	return limb{
		along: []float64{0, 1}, height: []float64{foot, end},
		area: circle(a.bore) * k * k, fill: circle(a.bore) * a.fill,
		over: a.leg.Fluid.At(s.t), tap: a.leg.Tap,
		jump: s.set.Capillarity.jump(a.bore),
	}
}

// join fills two limbs with the liquid.
func (s state) join(high, low limb, liquid Liquid) vessel {
	return vessel{high: high, low: low, g: s.set.G, rho: liquid.At(s.t), excess: s.excess(liquid, high.fill+low.fill)}
}

// check refuses a setting that cannot be walked.
func (s Setting) check(liquid Liquid) error {
	if err := positive("gravity", s.G); err != nil {
		return err
	}
	for _, t := range [...]float64{s.T, s.ZeroT} {
		if err := positive("temperature", t); err != nil {
			return err
		}
		if err := positive("liquid density", liquid.At(t)); err != nil {
			return err
		}
	}
	return nil
}

// shown is what the scale shows for a true length.
func (s Setting) shown(length, t float64) float64 { return length / s.Scale.grown(t) }

// now and zero are the two moments every kind is solved at.
func (s Setting) now(fillT float64) state  { return state{s, s.T, s.Tilt, fillT} }
func (s Setting) zero(fillT float64) state { return state{s, s.ZeroT, s.ZeroTilt, fillT} }

// positions solves both moments; build makes the vessel of one.
func (s Setting) positions(fillT, dp float64, build func(state) vessel) (Positions, error) {
	now, zero := build(s.now(fillT)), build(s.zero(fillT))
	h, l, err := now.solve(dp)
	if err != nil {
		return Positions{}, err
	}
	h0, l0, err := zero.solve(0)
	if err != nil {
		return Positions{}, fmt.Errorf("at the zero: %w", err)
	}
	return Positions{
		High: s.shown(h, s.T), Low: s.shown(l, s.T),
		ZeroHigh: s.shown(h0, s.ZeroT), ZeroLow: s.shown(l0, s.ZeroT),
		Head: now.head(h, l), ZeroHead: zero.head(h0, l0),
	}, nil
}
