package bridge_test

import (
	"fmt"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"manobridge/cmd/manobridge/bridge"
	"manobridge/configs"
	"manobridge/convert"
	"manobridge/ingest"
	"manobridge/ingest/ingesttest"
	"manobridge/publish/journal"
	"manobridge/publish/publishtest"
)

// badClock is a true monotonic clock beside a wall clock that can be set and that shows only every 50th millisecond, so
// that readings of one instrument meet in one time.
type badClock struct {
	began time.Time
	mu    sync.Mutex
	start time.Time // what the wall clock would have shown at began
}

func newBadClock() *badClock {
	now := time.Now()
	return &badClock{began: now, start: now.Round(0)}
}

func (c *badClock) now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.start.Add(time.Since(c.began)).Truncate(50 * time.Millisecond)
}

func (c *badClock) step(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.start = c.start.Add(d)
}

func (c *badClock) clock() ingest.Clock {
	return ingest.Clock{Now: c.now, SinceStart: func() time.Duration { return time.Since(c.began) }}
}

// journalEvents reads the events of one code.
func journalEvents(t *testing.T, path, code string) (out []journal.Event) {
	t.Helper()
	r, err := journal.OpenReader(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	all, err := r.Events(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range all {
		if e.Code == code {
			out = append(out, e)
		}
	}
	return out
}

// stepped runs a bridge while frames flow and its wall clock goes a day forward, an hour back, and back to where it
// began, so that the same times of day come a second time. Then the line falls silent after one more hour back.
func stepped(t *testing.T, line *ingesttest.Line, c *configs.Config) (x *bench, sizes []time.Duration) {
	t.Helper()
	const silence = 3 * time.Second // what a busy machine does not reach between two frames
	c.Ports[0].Silence = configs.Duration(silence)
	clock := newBadClock()
	x = start(t, c, func(o *bridge.Options) { o.Clock = clock.clock() })
	opened(t, x, line)
	sent, halt := flow(t, line, 10*time.Millisecond)
	sizes = []time.Duration{24 * time.Hour, -time.Hour, -23 * time.Hour, -time.Hour}
	for i, d := range sizes {
		n := sent.Load() + 20
		eventually(t, "frames", func() bool { return sent.Load() >= n })
		clock.step(d)
		eventually(t, "the step to be told", func() bool { return strings.Count(x.log.String(), "code=clock-step") == i+1 })
	}
	halt()
	eventually(t, "every frame", func() bool { return x.b.Counts().Good == uint64(sent.Load()) })
	if n := x.b.Counts().Bad; n != 0 {
		t.Errorf("got %d bad results while frames flow, want 0: the clock made an instrument silent", n)
	}
	// By the wall clock the latest frames are yet to come for an hour; by the monotonic one they soon are old.
	eventually(t, "both instruments silent", func() bool { return x.b.Counts().Bad == 2 })
	return x, sizes
}

// A wall clock that is set a day forward and hours back harms nothing: numbers follow one another, no time of an
// instrument stands twice, intervals are those that went by, silence is told when it is, and every step is on record.
func TestClockStepsHarmNothing(t *testing.T) {
	t.Parallel()
	line := ingesttest.NewLine(t)
	path := journalPath(t)
	began := time.Now()
	x, sizes := stepped(t, line, config(t, line.Path, path, ""))
	x.end()
	lasted := time.Since(began)

	type key struct {
		instrument string
		at         int64
	}
	taken := map[key]uint64{}
	lastSeq, lastSince := map[string]uint64{}, map[string]time.Duration{}
	list := rows(t, path)
	for i := range list {
		r := &list[i]
		if r.Seq != lastSeq[r.Instrument]+1 {
			t.Fatalf("%s: got seq %d after %d, want the next", r.Instrument, r.Seq, lastSeq[r.Instrument])
		}
		if r.SinceStart < lastSince[r.Instrument] || r.SinceStart > lasted {
			t.Errorf("%s seq %d: got %v since the start after %v, want it to grow up to %v", r.Instrument, r.Seq, r.SinceStart, lastSince[r.Instrument], lasted)
		}
		k := key{r.Instrument, r.ReceivedAt.UnixNano()}
		if other, ok := taken[k]; ok {
			t.Errorf("%s: got seq %d and %d both at %v, want every time once", r.Instrument, other, r.Seq, r.ReceivedAt)
		}
		taken[k], lastSeq[r.Instrument], lastSince[r.Instrument] = r.Seq, r.Seq, r.SinceStart
	}
	if n := causesOf(list); n[convert.Silence] != 2 || n[""]+2 != len(list) {
		t.Errorf("got %v by cause, want all good but one silence of each instrument at the end", n)
	}

	events := journalEvents(t, path, "clock-step")
	if len(events) != len(sizes) || strings.Count(x.log.String(), "code=clock-step") != len(sizes) {
		t.Fatalf("got %d clock-step events, want each of %v once; log:\n%s", len(events), sizes, x.log.String())
	}
	for i, size := range sizes {
		way := "forward"
		if size < 0 {
			way = "back"
		}
		var by float64
		if _, err := fmt.Sscanf(events[i].Note, "set "+way+" by %f s", &by); err != nil {
			t.Errorf("got note %q, want set %s by %v", events[i].Note, way, size)
		} else if d := by - size.Abs().Seconds(); d < -0.1 || d > 0.1 {
			t.Errorf("got a step of %v s, want %v s ± 0.1 s (twice what the clock of the test shows in one)", by, size.Abs().Seconds())
		}
	}
}

// Nothing turns late, and nothing late turns live, by a step of the wall clock.
func TestClockStepsMakeNothingLate(t *testing.T) {
	t.Parallel()
	broker := publishtest.Mosquitto(t)
	s := publishtest.Subscribe(t, broker.Addr, []string{"manobridge/test-hall/+/pressure", "manobridge/test-hall/+/backlog"})
	line := ingesttest.NewLine(t)
	x, _ := stepped(t, line, config(t, line.Path, journalPath(t), fmt.Sprintf("publish:\n  mqtt: {url: \"tcp://%s\", live_within: 30s}", broker.Addr)))
	eventually(t, "all delivered", settled(x))
	good := int(x.b.Counts().Good)
	x.end()
	live := 0
	eventually(t, "every reading at the subscriber", func() bool {
		live = 0
		for _, m := range s.Messages() {
			if strings.HasSuffix(m.Topic, "/backlog") {
				t.Fatalf("got %s late: %s, want all live: nothing waited", m.Topic, m.Payload)
			}
			if strings.HasSuffix(m.Topic, "/pressure") && strings.Contains(string(m.Payload), "differential_pressure_pa") {
				live++
			}
		}
		return live >= good
	})
}

// Every run begins in the journal with the boot it is of.
func TestRunBeginsWithItsBoot(t *testing.T) {
	line := ingesttest.NewLine(t)
	path := journalPath(t)
	x := start(t, config(t, line.Path, path, ""))
	run := x.b.RunID()
	x.end()
	boot := "unknown"
	if text, err := os.ReadFile("/proc/sys/kernel/random/boot_id"); err == nil { // random(4); Linux alone has it
		boot = strings.TrimSpace(string(text))
	}
	events := journalEvents(t, path, "bridge-started")
	if len(events) != 1 || events[0].Run != run || !strings.Contains(events[0].Note, "boot id "+boot+", program version ") {
		t.Errorf("got %+v, want one bridge-started of run %s with boot id %s and a version", events, run, boot)
	}
}
