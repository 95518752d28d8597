package assemble

import (
	"fmt"
	"math"

	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/position"
	"manobridge/convert/quantity"
)

// Signals builds what works out the positions of an instrument; nil where its digitizer sends positions.
func Signals(in *configs.Instrument) (*position.Instrument, error) {
	if in.Signal == nil {
		return nil, nil
	}
	out := &position.Instrument{}
	for _, l := range []struct {
		name   string
		signal *configs.LimbSignal
		to     *position.Limb
	}{{"high", in.Signal.High, &out.High}, {"low", in.Signal.Low, &out.Low}} {
		if l.signal == nil {
			continue
		}
		limb, err := limbSignal(l.signal)
		if err != nil {
			return nil, fmt.Errorf("instrument %s: signal.%s: %w", in.Name, l.name, err)
		}
		*l.to = limb
	}
	return out, nil
}

func limbSignal(s *configs.LimbSignal) (position.Limb, error) {
	mm := func(p *float64) quantity.Length { return quantity.Millimetres(or(p, 0)) }
	switch s.Unit {
	case "distance_mm":
		return position.NewDistance(position.DistanceOptions{Reference: mm(s.ReferenceMM), Blanking: mm(s.BlankingMM), Farthest: mm(s.FarthestMM),
			U: mm(s.UMM), Step: mm(s.Step)})
	case "px":
		o := position.ImageOptions{FiducialU: mm(s.FiducialUMM), MarkRowU: or(s.FiducialUPx, 0), RowU: or(s.RowUPx, 0), Beyond: mm(s.BeyondMM),
			Offset: mm(s.MeniscusOffsetMM), OffsetU: mm(s.MeniscusOffsetUMM)}
		for _, at := range s.FiducialsMM {
			o.Fiducials = append(o.Fiducials, quantity.Millimetres(at))
		}
		if s.MinScore != nil {
			o.MinScore = convert.Some(*s.MinScore)
		}
		return position.NewImage(o)
	}
	unit := map[string]string{"counts": "counts", "v": "V", "ma": "mA"}[s.Unit]
	o := position.TableOptions{U: mm(s.UMM), Step: or(s.Step, 0), Beyond: mm(s.BeyondMM), Unit: unit, Loop: s.Unit == "ma"}
	for _, p := range s.Points {
		o.Points = append(o.Points, position.Point{Signal: p[0], At: quantity.Millimetres(p[1])})
	}
	return position.NewTable(o)
}

// extras adds the input that a signal, or averaging, brings with the positions of each reading.
func (b *builder) extras(o *convert.Options) error {
	signals, err := Signals(b.in)
	if err != nil {
		return err
	}
	if signals == nil {
		signals = &position.Instrument{}
	}
	for _, l := range []struct {
		limb position.Limb
		u    *convert.LimbUncertainties
	}{{signals.High, &o.U.High}, {signals.Low, &o.U.Low}} {
		switch {
		case l.limb != nil && b.in.Average != nil:
			l.u.Extra = &convert.ExtraInput{Name: "from its signal, averaged", Typical: l.limb.Typical()}
		case l.limb != nil:
			l.u.Extra = &convert.ExtraInput{Name: "from its signal", Typical: l.limb.Typical()}
		case b.in.Average != nil:
			l.u.Extra = &convert.ExtraInput{Name: "from averaging"}
		}
		if l.limb != nil {
			throughSignal(&l.u.Zero, l.limb)
			throughSignal(&l.u.Tie, l.limb)
		}
	}
	return nil
}

// throughSignal adds to the uncertainty of a position that was taken once, and is assumed to be as that of every reading,
// what every reading has from its signal. A stated one stays: whoever stated it knows how the position was taken.
func throughSignal(u *convert.Stated[quantity.Length], limb position.Limb) {
	if u.Assumed {
		u.U = quantity.Length(math.Hypot(float64(u.U), float64(limb.Typical().U)))
	}
}
