package main

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strings"
	"time"

	"manobridge/cmd/manobridge/bridge"
	"manobridge/cmd/manobridge/operate/control"
	"manobridge/cmd/manobridge/screen"
	"manobridge/convert"
)

// watchCommand shows a running bridge.
type watchCommand struct {
	Config string        `short:"c" required:"" placeholder:"FILE" help:"Configuration file of the running bridge."`
	For    time.Duration `placeholder:"10s" help:"End by itself after this long. Left out: until interrupted."`
	Once   bool          `help:"Look once, and end."`
	JSON   bool          `help:"One JSON object for each look."`
}

// How often the bridge is asked. Nobody reads faster than twice a second, and plain lines are for a log.
const (
	lookEveryLive  = 500 * time.Millisecond
	lookEveryPlain = 5 * time.Second
)

// Run draws until it is asked to stop. A bridge that ends meanwhile is waited for.
func (c *watchCommand) Run(ctx context.Context, s streams) error {
	cfg, err := loadConfig(c.Config, true)
	if err != nil {
		return err
	}
	client := control.NewClient(cfg.SocketPath())
	defer client.Close()
	if c.For > 0 {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(ctx, c.For)
		defer cancel()
	}
	o := screen.Options{}
	if f, ok := s.out.(*os.File); ok && !c.JSON {
		o = screen.For(f, os.LookupEnv)
	}
	names := []string{}
	for i := range cfg.Instruments {
		if !cfg.Instruments[i].Offline {
			names = append(names, cfg.Instruments[i].Name)
		}
	}
	unit := displayUnit(cfg)
	o.Unit = unit.symbol
	w := watching{table: screen.New(s.out, o, names...), unit: unit, live: o.Live, began: time.Now(), seen: map[string]string{}}
	every := lookEveryPlain
	if o.Live || c.JSON {
		every = lookEveryLive
	}
	tick := time.NewTicker(every)
	defer tick.Stop()
	for first := true; ; first = false {
		var v bridge.View
		a, err := client.Ask(ctx, control.Request{Name: "view"}, nil, &v)
		switch {
		case ctx.Err() != nil:
			return nil
		case err != nil && first || err == nil && !a.Done && first:
			return answered(a, err)
		case err != nil || !a.Done:
			w.lost(time.Now())
		case c.JSON:
			if err := json.NewEncoder(s.out).Encode(v); err != nil {
				return nil // whoever read it has gone
			}
		default:
			w.take(&v, time.Now())
		}
		if !c.JSON && w.draw(time.Now()) != nil {
			return nil // the terminal has gone
		}
		if c.Once {
			if !w.live && !c.JSON {
				for _, n := range w.notes {
					fmt.Fprintln(s.out, n)
				}
			}
			return nil
		}
		select {
		case <-ctx.Done():
			return nil
		case <-tick.C:
		}
	}
}

// watching is what is shown of a bridge.
type watching struct {
	table *screen.Table
	unit  pressureUnit
	live  bool
	began time.Time
	title string
	notes []string
	seen  map[string]string // run and number of the result shown last, by instrument
	quiet time.Time         // since when the bridge does not answer
}

// take takes in a look at the bridge.
func (w *watching) take(v *bridge.View, now time.Time) {
	w.quiet = time.Time{}
	w.title = fmt.Sprintf("manobridge %s, %s, running for %s", v.Bridge, v.Site, lasting(v.Time.Sub(v.Started)))
	for i := range v.Instruments {
		in := &v.Instruments[i]
		name := fmt.Sprintf("%s/%d", v.Run, in.Seq)
		if in.Seq == 0 || w.seen[in.Instrument] == name {
			continue
		}
		w.seen[in.Instrument] = name
		w.table.Update(rowOf(in, w.unit), now.Sub(w.began))
	}
	w.notes = notesOf(v)
	if w.unit.assumed != "" {
		w.notes = append(w.notes, w.unit.assumed)
	}
}

// lost says that the bridge does not answer.
func (w *watching) lost(now time.Time) {
	if w.quiet.IsZero() {
		w.quiet = now
	}
	w.notes = []string{fmt.Sprintf("THE BRIDGE DOES NOT ANSWER for %s: what stands above is from before", lasting(now.Sub(w.quiet)))}
}

func (w *watching) draw(now time.Time) error {
	return w.table.Draw(w.title, w.notes, now.Sub(w.began))
}

// rowOf is the line of one instrument, its pressure in the unit for people.
func rowOf(in *bridge.InstrumentView, unit pressureUnit) screen.Row {
	or := func(v *float64, by float64) float64 {
		if v == nil {
			return math.NaN()
		}
		return *v * by
	}
	row := screen.Row{Instrument: in.Instrument, LowMm: or(in.LowMM, 1), HighMm: or(in.HighMM, 1), HeadMm: or(in.HeadMM, 1),
		PressurePa: or(in.PressurePa, unit.perPa), ExpandedPa: or(in.ExpandedPa, unit.perPa), TemperatureC: or(in.TemperatureC, 1),
		Status: in.Status, Signal: in.NE107}
	for _, c := range in.Causes {
		row.Causes = append(row.Causes, inWords(c))
	}
	return row
}

// inWords reads a code as the English it is made of.
func inWords(c convert.Cause) string { return strings.ReplaceAll(string(c), "-", " ") }

// notesOf says below the table what is not as it should be, and how ports, sinks, journal and clock stand.
func notesOf(v *bridge.View) []string {
	var out []string
	for i := range v.Instruments {
		in := &v.Instruments[i]
		switch {
		case in.Seq == 0 || in.Status == "good":
			continue
		case in.LastGood.IsZero():
			out = append(out, fmt.Sprintf("%s: no good value in this run; %s", in.Instrument, reason(in)))
		default:
			out = append(out, fmt.Sprintf("%s: last good %s ago; %s", in.Instrument, lasting(v.Time.Sub(in.LastGood)), reason(in)))
		}
	}
	for _, p := range v.Ports {
		state := "up"
		if !p.Open {
			state = "DOWN"
		}
		out = append(out, fmt.Sprintf("port %s %s, %d frames, %d refused", p.Port, state, p.Frames, p.Refused))
	}
	for _, s := range v.Sinks {
		line := fmt.Sprintf("%s %s, %d delivered, %d waiting", s.Sink, s.Link, s.Delivered, s.Waiting)
		if s.Quarantined > 0 {
			line += fmt.Sprintf(", %d put aside", s.Quarantined)
		}
		out = append(out, line)
	}
	j := fmt.Sprintf("journal %s, %d results of this run", v.Journal.Path, v.Journal.Rows)
	switch {
	case v.Journal.Full != "":
		j = fmt.Sprintf("JOURNAL CANNOT BE WRITTEN, %d results held in memory, %d lost: %s", v.Journal.Waiting, v.Journal.Lost, v.Journal.Full)
	case v.Journal.Lost > 0:
		j += fmt.Sprintf(", %d LOST", v.Journal.Lost)
	}
	return append(out, j, "clock "+v.Time.UTC().Format(time.RFC3339))
}

// reason says why a value is not good.
func reason(in *bridge.InstrumentView) string {
	if in.Reason != "" {
		return in.Reason
	}
	words := make([]string, len(in.Causes))
	for i, c := range in.Causes {
		words[i] = inWords(c)
	}
	return strings.Join(words, ", ")
}

// lasting is a time as a person says it.
func lasting(d time.Duration) string {
	if d < time.Minute {
		return fmt.Sprintf("%.0f s", math.Max(d.Seconds(), 0))
	}
	return d.Round(time.Second).String()
}
