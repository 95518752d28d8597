package bridge

import (
	"context"
	"log/slog"
	"slices"
	"strings"
	"time"

	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/window"
)

// channels are where one instrument has the values from that it needs beside its positions, and what its own frames last
// said, for those that take it from there. Only the loop touches them.
type channels struct {
	rules  window.Rules
	latest window.Latest
	old    string // what was said to be too old
}

func newChannels(c *configs.Config, in *configs.Instrument) channels {
	var x channels
	switch from := in.Temperature.From; from {
	case "", configs.FromFrame, configs.FromFixed, configs.FromAmbient:
	default:
		x.rules[window.LiquidTemperature] = window.Rule{From: from, MaxAge: time.Duration(in.Temperature.MaxAge)}
	}
	for channel, field := range map[window.Channel]string{window.AmbientTemperature: "ambient_c", window.AmbientPressure: "pressure_hpa",
		window.AmbientHumidity: "humidity_pct", window.Tilt: "tilt_deg"} {
		switch from := c.ChannelOf(in, field); from.From {
		case configs.FromFrame:
		case configs.FromFixed:
			x.rules[channel].Configured = true
		default:
			x.rules[channel] = window.Rule{From: from.From, MaxAge: time.Duration(from.MaxAge), BadWhenOld: from.WhenOld == configs.OldIsBad}
		}
	}
	return x
}

// join gives the reading what its instrument has from elsewhere, and returns what is too old.
func (b *Bridge) join(in *instrument, r *convert.Reading) []*convert.Refusal {
	in.channels.latest.Note(r)
	if r.Refusal != nil {
		return nil
	}
	old := in.channels.rules.Join(r, b.source)
	in.channels.tell(b.o.Log, r, old)
	return old
}

// source gives what an instrument or a station last said.
func (b *Bridge) source(name string) *window.Latest {
	if in := b.instruments[name]; in != nil {
		return &in.channels.latest
	}
	return b.stations[name]
}

// tell says once that values from elsewhere are too old, and once that they come again.
func (x *channels) tell(log *slog.Logger, r *convert.Reading, old []*convert.Refusal) {
	if len(old) == 0 && x.old == "" {
		return
	}
	names, lines := make([]string, len(old)), make([]string, len(old))
	for i, o := range old {
		names[i], lines[i] = o.Field, o.Error()
	}
	now := strings.Join(names, ", ")
	before := x.old
	x.old = now
	switch {
	case now == before:
	case now == "":
		log.Info("values from elsewhere come again", "code", convert.ChannelOld, "instrument", r.Instrument, "seq", r.Seq, "were_missing", before)
	case old[0].Code == convert.ChannelMissing:
		log.Warn("no result without a value from elsewhere: "+strings.Join(lines, "; "), "code", convert.ChannelMissing, "instrument", r.Instrument, "seq", r.Seq)
	default:
		log.Warn("a configured value stands in for one from elsewhere: "+strings.Join(lines, "; "), "code", convert.ChannelOld, "instrument", r.Instrument, "seq", r.Seq)
	}
}

// heard takes the reading of a station, and is false for one of anything else. Its row is kept in the journal as a sample,
// which no sink gets: with it a result can be worked out anew, and a time when it was not heard is a gap like another's.
func (b *Bridge) heard(ctx context.Context, r *convert.Reading, results *[]convert.Result) (bool, error) {
	latest := b.stations[r.Instrument] // also of one that was taken out since, for what of it is still on its way
	if latest == nil {
		if !slices.ContainsFunc(b.o.Config.Stations, func(s configs.Station) bool { return s.Name == r.Instrument }) {
			return false, nil
		}
		latest = &window.Latest{}
		if b.stations == nil {
			b.stations = map[string]*window.Latest{}
		}
		b.stations[r.Instrument] = latest
	}
	latest.Note(r)
	if k := b.condition.keeper; k != nil {
		k.Hear(ctx, r, b.moment())
	}
	row := convert.Result{Reading: *r}
	if r.Refusal != nil {
		row = convert.Refused(*r)
	}
	row.Sample = true
	*results = append(*results, row)
	return true, b.gaps.see(ctx, &row)
}

// markOld marks a result with what is too old, each cause once.
func markOld(res *convert.Result, old []*convert.Refusal) {
	for _, why := range old {
		if !slices.Contains(res.Causes, why.Code) {
			res.Mark(why)
		}
	}
}
