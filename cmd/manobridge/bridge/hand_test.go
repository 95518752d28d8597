package bridge_test

import (
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"manobridge/cmd/manobridge/acts"
	"manobridge/cmd/manobridge/bridge"
	"manobridge/cmd/manobridge/operate/control"
	"manobridge/configs"
	"manobridge/convert"
	"manobridge/ingest/ingesttest"
	"manobridge/publish/journal"
)

// reach offers a bridge on a socket and gives a client of it.
func reach(t *testing.T, x *bench) *control.Client {
	t.Helper()
	dir, err := os.MkdirTemp("", "hand") // a short path: the kernel takes 107 bytes
	if err != nil {
		t.Fatal(err)
	}
	socket := filepath.Join(dir, "s")
	s := control.NewServer(socket, slog.New(slog.DiscardHandler))
	if err := x.b.Offer(s); err != nil {
		t.Fatal(err)
	}
	if err := s.Open(); err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- s.Run(ctx) }()
	c := control.NewClient(socket)
	t.Cleanup(func() {
		c.Close()
		stop()
		if err := <-done; err != nil {
			t.Error(err)
		}
		if err := os.RemoveAll(dir); err != nil {
			t.Error(err)
		}
	})
	return c
}

// sending writes frames of bank-1 at its low limb, 40 a second, until the function it returns is called.
func sending(t *testing.T, line *ingesttest.Line, at func(i int) float64) (stop func()) {
	t.Helper()
	quit, ended := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(ended)
		tick := time.NewTicker(25 * time.Millisecond)
		defer tick.Stop()
		for i := 0; ; i++ {
			select {
			case <-quit:
				return
			case <-tick.C:
				line.Send(fmt.Sprintf("02,%.3f,20.4\n", at(i)))
			}
		}
	}()
	stopped := false
	stop = func() {
		if !stopped {
			stopped = true
			close(quit)
			<-ended
		}
	}
	t.Cleanup(stop)
	return stop
}

// still is a column at rest at 11.4 mm that the digitizer shows with ±0.02 mm.
func still(i int) float64 { return 11.4 + 0.02*float64(i%3-1) }

// ask asks, and fails where nobody answers.
func asked(t *testing.T, c *control.Client, name, subject, why string, args, into any) control.Answer {
	t.Helper()
	a, err := c.Ask(t.Context(), control.Request{Name: name, Subject: subject, Why: why}, args, into)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func look(t *testing.T, c *control.Client, instrument string) bridge.InstrumentView {
	t.Helper()
	var v bridge.View
	if a := asked(t, c, "view", "", "", nil, &v); !a.Done {
		t.Fatalf("got %+v, want a look at the bridge", a)
	}
	i := slices.IndexFunc(v.Instruments, func(i bridge.InstrumentView) bool { return i.Instrument == instrument })
	if i < 0 {
		t.Fatalf("got %+v, want %s in it", v, instrument)
	}
	return v.Instruments[i]
}

// A column that stands 1.2 mm above its old zero with both ports open: as found it shows what 1.2 mm of that tube are, as
// left nothing, from the next reading on, also after a restart, and until the zero in the file is another or it is dropped.
func TestZeroIsTakenHoldsAndIsDropped(t *testing.T) {
	line := ingesttest.NewLine(t)
	path := journalPath(t)
	cfg := config(t, line.Path, path, "")
	x := start(t, cfg)
	opened(t, x, line)
	c := reach(t, x)
	stop := sending(t, line, still)
	eventually(t, "the first reading", func() bool { return x.b.Counts().Readings > 0 })
	before := look(t, c, "bank-1")

	var report bridge.ZeroReport
	args := bridge.ZeroArgs{For: time.Second, BothPortsOpen: true}
	a := asked(t, c, "zero", "bank-1", "after moving the bench", args, &report)
	if !a.Done {
		t.Fatalf("got %+v, want a zero\n%s", a, x.log.String())
	}
	// By hand: the rise r = 11.4 − 10.2 mm gives h = r (sin 11.54° + (4/40)²) = 1.2 mm · (0.200052 + 0.01) = 0.252062 mm of an
	// oil of 830 · (1 − 0.00085 · 0.4) = 829.72 kg/m³ under air of 1.13 kg/m³ with g = 9.80715 m/s²: 2.0483 Pa. The mean of
	// the positions is known to about 0.004 mm, which is 0.007 Pa.
	if got, want, tol := report.AsFoundPa, 2.0483, 0.015; math.Abs(got-want) > tol {
		t.Errorf("got as found %.4f Pa, want %.4f ± %.3f Pa (by hand)", got, want, tol)
	}
	if got, tol := report.AsLeftPa, 1e-9; math.Abs(got) > tol {
		t.Errorf("got as left %g Pa, want 0 ± %g Pa: the same mean reading gives both", got, tol)
	}
	if report.ConfigBefore != before.Config || report.Config == before.Config {
		t.Errorf("got configurations %s and %s, want %s and another", report.ConfigBefore, report.Config, before.Config)
	}
	eventually(t, "a reading by the new zero without a mark", func() bool {
		v := look(t, c, "bank-1")
		return v.Config == report.Config && v.PressurePa != nil && math.Abs(*v.PressurePa) < 0.06 && !slices.Contains(v.Causes, convert.ZeroCheck)
	})
	stop()
	x.end()

	marked := 0
	for _, row := range rows(t, path) {
		if row.Instrument == "bank-1" && slices.Contains(row.Causes, convert.ZeroCheck) {
			marked++
			if row.Status != convert.Uncertain || row.StatusCode != 0x42080000 || row.NE107 != convert.FunctionCheck {
				t.Fatalf("got %v %#x %v, want uncertain 0x42080000 C (OPC UA StatusCode.csv, UncertainTransducerInManual)", row.Status, row.StatusCode, row.NE107)
			}
		}
	}
	if marked < report.Readings {
		t.Errorf("got %d results marked as a function check, want all %d of the zero", marked, report.Readings)
	}
	record(t, path, "zero", "after moving the bench")

	again := start(t, cfg)
	opened(t, again, line)
	c = reach(t, again)
	if v := look(t, c, "bank-1"); v.Config != report.Config {
		t.Errorf("got configuration %s after a restart, want %s", v.Config, report.Config)
	}
	if a := asked(t, c, "zero", "bank-1", "the bench is back", bridge.ZeroArgs{Drop: true}, nil); !a.Done {
		t.Fatalf("got %+v, want the zero dropped", a)
	}
	if v := look(t, c, "bank-1"); v.Config != before.Config {
		t.Errorf("got configuration %s after the drop, want that of the file, %s", v.Config, before.Config)
	}
	again.end()
	record(t, path, "zero-drop", "the bench is back")
}

// record holds the chain of acts to be whole and to end with this one.
func record(t *testing.T, path, what, why string) {
	t.Helper()
	r, err := journal.OpenReader(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := r.Close(); err != nil {
			t.Error(err)
		}
	}()
	report, err := acts.Verify(r.Acts(t.Context(), 0), nil)
	if err != nil || report.Problem != "" {
		t.Errorf("got %+v and %v, want a whole chain", report, err)
	}
	last, err := r.LastAct(t.Context())
	if err != nil || last.What != what || last.Why != why || last.Subject != "bank-1" || last.Who == "" {
		t.Errorf("got %+v and %v, want %s of bank-1 by somebody because %q", last, err, what, why)
	}
}

// A zero from a column that does not stand still would be wrong in every result after it.
func TestZeroIsRefused(t *testing.T) {
	for _, k := range []struct {
		name, code string
		at         func(i int) float64
		args       bridge.ZeroArgs
		subject    string
	}{
		{"noise", "zero-noisy", func(i int) float64 { return 11.4 + 6*float64(i%2) }, bridge.ZeroArgs{For: time.Second, BothPortsOpen: true}, "bank-1"},
		{"drift", "zero-drifting", func(i int) float64 { return 11.4 + 0.1*float64(i) }, bridge.ZeroArgs{For: time.Second, BothPortsOpen: true}, "bank-1"},
		{"off the scale", "zero-bad-readings", func(int) float64 { return 400 }, bridge.ZeroArgs{For: time.Second, BothPortsOpen: true}, "bank-1"},
		{"not confirmed", "zero-not-confirmed", still, bridge.ZeroArgs{For: time.Second}, "bank-1"},
		{"too long", "zero-time", still, bridge.ZeroArgs{For: time.Hour, BothPortsOpen: true}, "bank-1"},
		{"nothing to drop", "no-zero-taken", still, bridge.ZeroArgs{Drop: true}, "bank-1"},
		{"misspelt", "no-such-instrument", still, bridge.ZeroArgs{For: time.Second, BothPortsOpen: true}, "bank1"},
	} {
		t.Run(k.name, func(t *testing.T) {
			line := ingesttest.NewLine(t)
			x := start(t, config(t, line.Path, journalPath(t), ""))
			opened(t, x, line)
			c := reach(t, x)
			sending(t, line, k.at)
			a := asked(t, c, "zero", k.subject, "a test", k.args, nil)
			if a.Done || a.Code != k.code {
				a.Data = nil
				t.Errorf("got %+v, want code %s", a, k.code)
			}
			if k.code == "no-such-instrument" && !strings.Contains(a.Text, "did you mean bank-1") {
				t.Errorf("got %q, want the name that was meant", a.Text)
			}
		})
	}
}

// Whoever asked and has gone ends the function check, and no zero is taken.
func TestZeroThatIsInterruptedLeavesAllAsItWas(t *testing.T) {
	line := ingesttest.NewLine(t)
	x := start(t, config(t, line.Path, journalPath(t), ""))
	opened(t, x, line)
	c := reach(t, x)
	sending(t, line, still)
	ctx, cancel := context.WithCancel(t.Context())
	gone := make(chan error, 1)
	go func() {
		args, err := json.Marshal(bridge.ZeroArgs{For: 5 * time.Minute, BothPortsOpen: true})
		if err == nil {
			_, err = c.Do(ctx, control.Request{Name: "zero", Subject: "bank-1", Why: "a test", Args: args})
		}
		gone <- err
	}()
	checked := func() bool { return slices.Contains(look(t, c, "bank-1").Causes, convert.ZeroCheck) }
	eventually(t, "the function check", checked)
	was := look(t, c, "bank-1").Config
	cancel()
	if err := <-gone; err == nil {
		t.Error("got an answer, want none: the one who asked has gone")
	}
	eventually(t, "the end of the function check", func() bool { return !checked() })
	if now := look(t, c, "bank-1").Config; now != was {
		t.Errorf("got configuration %s, want %s: no zero was taken", now, was)
	}
}

// An instrument that is out publishes no pressure, keeps its raw readings, and stays out over a restart.
func TestServiceOutAndBack(t *testing.T) {
	line := ingesttest.NewLine(t)
	path := journalPath(t)
	cfg := config(t, line.Path, path, "")
	x := start(t, cfg)
	opened(t, x, line)
	c := reach(t, x)
	if a := asked(t, c, "service", "bank-1", "", bridge.ServiceArgs{Out: true}, nil); a.Code != control.CodeNoWhy {
		t.Errorf("got %+v, want code %s", a, control.CodeNoWhy)
	}
	if a := asked(t, c, "service", "bank-1", "new tube", bridge.ServiceArgs{Out: true}, nil); !a.Done {
		t.Fatalf("got %+v, want it out", a)
	}
	if a := asked(t, c, "service", "bank-1", "new tube", bridge.ServiceArgs{Out: true}, nil); a.Code != "already-out" {
		t.Errorf("got %+v, want code already-out", a)
	}
	line.Send("02,100.0,21.0\n03,110.0,21.0\n")
	eventually(t, "both readings", func() bool { return x.b.Counts().Readings == 2 })
	x.end()
	record(t, path, "service-out", "new tube")
	for _, row := range rows(t, path) {
		_, has := row.Pressure()
		switch row.Instrument {
		case "bank-1":
			if has || row.StatusCode != 0x808D0000 || row.NE107 != convert.FunctionCheck || !row.Low.Set || math.Abs(row.Low.V.Millimetres()-100) > 1e-6 {
				t.Errorf("got %+v, want no pressure, 0x808D0000 C (OPC UA StatusCode.csv, BadOutOfService) and the position 100 mm", row.Result)
			}
		case "bank-2":
			if !has || row.Status != convert.Good {
				t.Errorf("got %+v, want the other instrument good", row.Result)
			}
		}
	}

	again := start(t, cfg)
	opened(t, again, line)
	c = reach(t, again)
	if v := look(t, c, "bank-1"); v.Service == nil || v.Service.Why != "new tube" {
		t.Errorf("got %+v after a restart, want it still out", v)
	}
	if !strings.Contains(again.log.String(), "code=in-service instrument=bank-1") {
		t.Errorf("got the log\n%s\nwant it recalled at the start", again.log.String())
	}
	if a := asked(t, c, "service", "bank-1", "tube is in", bridge.ServiceArgs{}, nil); !a.Done {
		t.Fatalf("got %+v, want it back", a)
	}
	line.Send("02,100.0,21.0\n")
	eventually(t, "a good reading", func() bool { return again.b.Counts().Good == 1 })
}

// The zero in the file was changed after one was taken: the file holds again.
func TestAChangedFileOverridesAZeroThatWasTaken(t *testing.T) {
	line := ingesttest.NewLine(t)
	cfg := config(t, line.Path, journalPath(t), "")
	x := start(t, cfg)
	opened(t, x, line)
	c := reach(t, x)
	stop := sending(t, line, still)
	if a := asked(t, c, "zero", "bank-1", "a test", bridge.ZeroArgs{For: time.Second, BothPortsOpen: true}, nil); !a.Done {
		t.Fatalf("got %+v, want a zero", a)
	}
	stop()
	taken := inUse(x, "bank-1")
	if *taken.Zero.LowMM == *cfg.Instruments[0].Zero.LowMM {
		t.Fatalf("got zero %v mm in use, want the one that was taken", *taken.Zero.LowMM)
	}
	zero := 12.0
	change := func(i int) *configs.Config {
		c := *cfg
		c.Instruments = slices.Clone(cfg.Instruments)
		was := *c.Instruments[i].Zero
		was.LowMM = &zero
		c.Instruments[i].Zero = &was
		return &c
	}
	// A file that leaves this instrument as it was leaves it its zero.
	if err := x.b.Reload(t.Context(), change(1)); err != nil {
		t.Fatal(err)
	}
	if got := inUse(x, "bank-1"); *got.Zero.LowMM != *taken.Zero.LowMM {
		t.Errorf("got zero %v mm after a reload, want %v mm as taken", *got.Zero.LowMM, *taken.Zero.LowMM)
	}
	x.end()
	again := start(t, change(0))
	if got := inUse(again, "bank-1"); got == nil || *got.Zero.LowMM != zero {
		t.Errorf("got zero %+v, want that of the file, 12 mm", got.Zero)
	}
}

func inUse(x *bench, name string) *configs.Instrument {
	c := x.b.Config()
	for i := range c.Instruments {
		if c.Instruments[i].Name == name {
			return &c.Instruments[i]
		}
	}
	return nil
}
