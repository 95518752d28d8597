package main

import (
	"context"
	"fmt"
	"math"
	"os"
	"sync"
	"time"

	"manobridge/cmd/manobridge/bridge"
	"manobridge/cmd/manobridge/demo"
	"manobridge/cmd/manobridge/demo/simulate"
	"manobridge/cmd/manobridge/screen"
	"manobridge/configs"
	"manobridge/convert"
)

// demoView shows a demonstration: its table while it runs, its sums at the end.
type demoView struct {
	cfg    *configs.Config
	bench  *demo.Bench
	s      streams
	live   bool
	began  time.Time
	topics string

	mu    sync.Mutex
	table *screen.Table
	seen  map[string]int // results by instrument
	worst worst
}

// worst is the largest difference between the true pressure and the reported one, measured in U.
type worst struct {
	ratio, differencePa, u float64
	instrument             string
}

func newDemoView(cfg *configs.Config, bench *demo.Bench, s streams) *demoView {
	names := make([]string, len(cfg.Instruments))
	for i := range cfg.Instruments {
		names[i] = cfg.Instruments[i].Name
	}
	o := screen.Options{}
	if f, ok := s.out.(*os.File); ok {
		o = screen.For(f, os.LookupEnv)
	}
	return &demoView{cfg: cfg, bench: bench, s: s, live: o.Live, began: time.Now(), table: screen.New(s.out, o, names...), seen: map[string]int{},
		topics: fmt.Sprintf("%s/%s/#", cfg.Publish.MQTT.Prefix, cfg.Site)}
}

// result is called by the bridge's loop for every result.
func (v *demoView) result(r *convert.Result) {
	pa, ok := r.Pressure()
	row := screen.Row{Instrument: r.Instrument, LowMm: math.NaN(), HighMm: math.NaN(), HeadMm: math.NaN(), PressurePa: math.NaN(),
		ExpandedPa: math.NaN(), TemperatureC: math.NaN(), Status: r.Status.String(), Signal: string(r.NE107)}
	if r.Low.Set {
		row.LowMm = r.Low.V.Millimetres()
	}
	if r.High.Set {
		row.HighMm = r.High.V.Millimetres()
	}
	if r.Head.Set {
		row.HeadMm = r.Head.V.Millimetres()
	}
	if r.Temperature.Set {
		row.TemperatureC = r.Temperature.V.Celsius()
	}
	if ok {
		row.PressurePa, row.ExpandedPa = pa, r.ExpandedU
	}
	for _, c := range r.Causes {
		row.Causes = append(row.Causes, string(c))
	}
	v.mu.Lock()
	defer v.mu.Unlock()
	v.seen[r.Instrument]++
	v.table.Update(row, time.Since(v.began))
	if r.Refusal != nil && r.Frame == nil || r.Refusal != nil {
		return // nothing true to hold it against
	}
	frame, known := v.bench.Ledger().Delivered(simulate.Delivered{Instrument: r.Instrument, Frame: string(r.Frame), HasPressure: ok,
		PressurePa: pa, CombinedPa: r.CombinedU, ExpandedPa: r.ExpandedU})
	if !known || !ok || r.Status != convert.Good {
		return
	}
	if d := pa - frame.PressurePa; math.Abs(d) > v.worst.ratio*r.ExpandedU {
		v.worst = worst{math.Abs(d) / r.ExpandedU, d, r.ExpandedU, r.Instrument}
	}
}

// start says where everything is.
func (v *demoView) start(b *bridge.Bridge) {
	fmt.Fprintf(v.s.out, "A test hall with %d simulated manometers on %d serial lines, read by the bridge like any other.\n", len(v.cfg.Instruments), len(v.cfg.Ports))
	fmt.Fprintf(v.s.out, "  subscribe      mosquitto_sub -p %s -t '%s' -v\n", portOf(v.bench.BrokerURL()), v.topics)
	fmt.Fprintf(v.s.out, "  configuration  %s\n", v.bench.ConfigPath())
	fmt.Fprintf(v.s.out, "  journal        manobridge export -c %s --since 1m\n\n", v.bench.ConfigPath())
}

// until draws until the time is over, the caller interrupts, or something ends; it returns why the bridge ended, nil
// where it did not.
func (v *demoView) until(ctx context.Context, limit time.Duration, played <-chan struct{}, ended <-chan error) error {
	var over <-chan time.Time
	if limit > 0 {
		t := time.NewTimer(limit)
		defer t.Stop()
		over = t.C
	}
	every := 5 * time.Second // plain lines
	if v.live {
		every = 500 * time.Millisecond
	}
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-over:
			v.draw()
			return nil
		case <-played:
			return nil
		case err := <-ended:
			if err == nil {
				err = fmt.Errorf("the bridge ended before it was asked to")
			}
			return err
		case <-tick.C:
			v.draw()
		}
	}
}

func (v *demoView) draw() {
	v.mu.Lock()
	defer v.mu.Unlock()
	note := fmt.Sprintf("%s  topics %s", v.bench.BrokerURL(), v.topics)
	_ = v.table.Draw("manobridge demo, "+v.cfg.Site, []string{note}, time.Since(v.began)) // a closed terminal ends the program by itself
}
