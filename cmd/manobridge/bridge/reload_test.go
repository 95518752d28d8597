package bridge_test

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"manobridge/cmd/manobridge/bridge"
	"manobridge/configs"
	"manobridge/ingest/ingesttest"
	"manobridge/publish"
	"manobridge/publish/journal"
	"manobridge/publish/publishtest"
)

// twoLines is the configuration of the bench with a second line, and what each instrument is at.
func twoLines(t *testing.T, a, b *ingesttest.Line, path, publish string, change func(c *configs.Config)) *configs.Config {
	t.Helper()
	c := config(t, a.Path, path, publish)
	second := c.Ports[0]
	second.Name, second.Device = "rack-b", b.Path
	c.Ports = append(c.Ports, second)
	change(c)
	return c
}

// seqs gives the seqs of an instrument in the order of the journal, and the configs they were worked out with.
func seqs(list []publish.Row, instrument string) (numbers []uint64, sets []string) {
	for i := range list {
		if r := &list[i]; r.Instrument == instrument {
			numbers = append(numbers, r.Seq)
			if r.Config != "" && !slices.Contains(sets, r.Config) {
				sets = append(sets, r.Config)
			}
		}
	}
	return numbers, sets
}

// An instrument moves to another line, a line is closed and opened with other settings, an instrument leaves and comes back:
// its numbers go on in every case, a new zero holds from one reading on, and port and broker learn of it all.
func TestReloadKeepsNumbersGoing(t *testing.T) {
	broker := publishtest.Mosquitto(t)
	about := publishtest.Subscribe(t, broker.Addr, []string{"manobridge/test-hall/bank-2/about", "manobridge/test-hall/bank-2/state"})
	lineA, lineB := ingesttest.NewLine(t), ingesttest.NewLine(t)
	path := journalPath(t)
	publish := fmt.Sprintf("publish: {mqtt: {url: \"tcp://%s\"}}", broker.Addr)
	load := func(change func(c *configs.Config)) *configs.Config {
		return twoLines(t, lineA, lineB, path, publish, change)
	}
	x := start(t, load(func(*configs.Config) {}))
	reload := func(change func(c *configs.Config)) {
		t.Helper()
		if err := x.b.Reload(t.Context(), load(change)); err != nil {
			t.Fatalf("reload: %v", err)
		}
	}
	good := func() uint64 { return x.b.Counts().Good + x.b.Counts().Uncertain }
	hear := func(line *ingesttest.Line, frame string) {
		t.Helper()
		before := good()
		eventually(t, "a reading of "+frame, func() bool { line.Send(frame + "\n"); return good() > before })
	}
	moved := func(c *configs.Config) { c.Instruments[1].Port = "rack-b" }
	hear(lineA, "02,40.00,21.0")
	hear(lineA, "03,40.00,21.0")
	reload(moved) // rack-b opens, rack-a stays open
	hear(lineB, "03,41.00,21.0")
	hear(lineA, "02,41.00,21.0")
	reload(func(c *configs.Config) { moved(c); c.Ports[1].Silence *= 2 }) // rack-b is opened anew
	hear(lineB, "03,42.00,21.0")
	zero := 11.0
	reload(func(c *configs.Config) { // another zero of bank-1, bank-2 leaves, and with it rack-b
		z := *c.Instruments[0].Zero
		z.LowMM = &zero
		c.Instruments[0].Zero = &z
		c.Instruments = c.Instruments[:1]
	})
	hear(lineA, "02,43.00,21.0")
	about.Wait(t, "what was said about bank-2 to be taken away, and its state to say so", func(list []publishtest.Message) bool {
		var taken, said bool
		for _, m := range list {
			taken = taken || strings.HasSuffix(m.Topic, "/about") && len(m.Payload) == 0
			said = said || strings.Contains(string(m.Payload), string("not-configured"))
		}
		return taken && said
	})
	reload(func(*configs.Config) {}) // as at first
	hear(lineA, "03,44.00,21.0")
	x.end()

	list := rows(t, path)
	for _, in := range []string{"bank-1", "bank-2"} {
		numbers, sets := seqs(list, in)
		for i, n := range numbers {
			if n != uint64(i)+1 {
				t.Fatalf("%s: got seqs %v, want each once and none left out", in, numbers)
			}
		}
		want := map[string]int{"bank-1": 2, "bank-2": 1}[in]
		if len(sets) != want {
			t.Errorf("%s: got results of %d coefficient sets, want %d", in, len(sets), want)
		}
	}
	r, err := journal.OpenReader(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := r.Close(); err != nil {
			t.Error(err)
		}
	}()
	events, err := r.Events(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	codes := map[string]int{}
	for _, e := range events {
		codes[e.Code]++
	}
	if codes["config-reloaded"] != 4 || codes["port-closed"] != 2 || codes["port-opened"] != 3 {
		t.Errorf("got events %v, want 4 reloads, rack-b closed twice and opened twice, rack-a opened once", codes)
	}
}

// What only a restart can apply is refused by name, and the bridge goes on as it was.
func TestReloadThatNeedsARestart(t *testing.T) {
	line := ingesttest.NewLine(t)
	path := journalPath(t)
	x := start(t, config(t, line.Path, path, ""))
	eventually(t, "the bridge to run", func() bool { return x.b.Sources()[0].Stats().Open })
	for key, change := range map[string]func(c *configs.Config){
		"site":    func(c *configs.Config) { c.Site = "other-hall" },
		"bridge":  func(c *configs.Config) { c.Bridge = "other-pc" },
		"journal": func(c *configs.Config) { c.Journal.Path += ".other" },
		"run":     func(c *configs.Config) { c.Run.Drain *= 2 },
		"operate": func(c *configs.Config) { c.Operate.Listen = "127.0.0.1:9464" },
	} {
		c := config(t, line.Path, path, "")
		change(c)
		if err := x.b.Reload(t.Context(), c); !errors.Is(err, bridge.ErrNeedsRestart) || !strings.Contains(err.Error(), key) {
			t.Errorf("%s: got %v, want it to name the key and a restart", key, err)
		}
		if x.b.Config() == c {
			t.Errorf("%s: got the refused configuration in use", key)
		}
	}
	before := x.b.Counts().Readings
	eventually(t, "a reading", func() bool { line.Send("02,40.00,21.0\n"); return x.b.Counts().Readings > before })
	x.end()
	if err := x.b.Reload(t.Context(), x.cfg); err == nil {
		t.Error("got a reload of a bridge that has ended, want it refused")
	}
}
