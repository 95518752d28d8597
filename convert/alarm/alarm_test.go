package alarm

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// bench is an alarm with a clock that a test moves.
type bench struct {
	t     testing.TB
	a     *Alarm
	now   time.Duration
	heard []Transition
}

func newBench(t testing.TB, latch bool) *bench {
	t.Helper()
	a, err := New(Options{Name: "corridor", OnDelay: 3 * time.Second, OffDelay: 2 * time.Second, Latch: latch,
		ReAlarm: time.Minute, ShelveCap: time.Hour}, Memory{}, 0)
	if err != nil {
		t.Fatal(err)
	}
	b := &bench{t: t, a: a}
	b.see(a.Evaluate(0, Absent), nil)
	return b
}

func (b *bench) see(ts []Transition, err error) {
	b.heard = append(b.heard, ts...)
	var refused *Refused
	if err != nil && !errors.As(err, &refused) {
		b.t.Fatalf("got %v, want a *Refused", err)
	}
}

// hold gives a condition at once and again each second.
func (b *bench) hold(c Condition, seconds int) {
	b.see(b.a.Evaluate(b.now, c), nil)
	for range seconds {
		b.now += time.Second
		b.see(b.a.Evaluate(b.now, c), nil)
	}
}

// do makes one stimulus of the table.
func (b *bench) do(stimulus string) {
	words := strings.Fields(stimulus)
	n := 0
	if len(words) > 1 {
		n, _ = strconv.Atoi(words[1])
	}
	switch {
	case words[0] == "present":
		b.hold(Present, n)
	case words[0] == "absent":
		b.hold(Absent, n)
	case words[0] == "unknown":
		b.hold(Unknown, n)
	case words[0] == "tick":
		for range n {
			b.now += time.Second
			b.see(b.a.Tick(b.now), nil)
		}
	case stimulus == "acknowledge":
		b.see(b.a.Acknowledge(b.now, 0))
	case stimulus == "reset":
		b.see(b.a.Reset(b.now))
	case stimulus == "shelve":
		b.see(b.a.Shelve(b.now, 5*time.Minute, false))
	case stimulus == "shelve too long":
		b.see(b.a.Shelve(b.now, time.Hour+1, false))
	case stimulus == "one shot":
		b.see(b.a.Shelve(b.now, 0, true))
	case stimulus == "unshelve":
		b.see(b.a.Unshelve(b.now))
	case stimulus == "suppress":
		b.see(b.a.Suppress(b.now, true), nil)
	case stimulus == "unsuppress":
		b.see(b.a.Suppress(b.now, false), nil)
	case stimulus == "out":
		b.see(b.a.Service(b.now, true))
	case stimulus == "back":
		b.see(b.a.Service(b.now, false))
	default:
		b.t.Fatalf("the table has an unknown stimulus %q", stimulus)
	}
}

// ways leads from the start to each state.
var ways = map[string]string{
	"A": "", "B": "present 3 s", "C": "present 3 s, acknowledge", "D": "present 3 s, absent 2 s", "E": "present 3 s, absent 2 s",
	"F": "present 3 s, acknowledge, absent 2 s", "G": "shelve", "H": "suppress", "I": "out",
}

func (b *bench) all(stimuli string) {
	for s := range strings.SplitSeq(stimuli, ",") {
		if s = strings.TrimSpace(s); s != "" {
			b.do(s)
		}
	}
}

func TestTransitionTable(t *testing.T) {
	text, err := os.ReadFile("testdata/transitions.csv")
	if err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(bytes.NewReader(text))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) < 60 {
		t.Fatalf("got %d rows, want the whole table", len(rows))
	}
	for _, row := range rows[1:] {
		b := newBench(t, row[1] == "latch")
		b.all(ways[row[0]])
		if got := string(b.a.State().Letter()); got != row[0] {
			t.Errorf("the way to %s led to %s", row[0], got)
			continue
		}
		b.all(row[2])
		if got := string(b.a.State().Letter()); got != row[3] {
			t.Errorf("%s (%s), %s: got %s, want %s (%s)", row[0], row[1], row[2], got, row[3], row[4])
		}
		b.chained()
	}
}

// chained holds that each transition begins where the one before ended.
func (b *bench) chained() {
	b.t.Helper()
	shown, under := Normal, Normal
	for i, tr := range b.heard {
		if tr.From != shown || tr.UnderFrom != under {
			b.t.Errorf("transition %d begins at %s over %s, want %s over %s", i, tr.From, tr.UnderFrom, shown, under)
		}
		shown, under = tr.To, tr.UnderTo
	}
	if shown != b.a.State() {
		b.t.Errorf("the transitions end at %s, the alarm is %s", shown, b.a.State())
	}
}

// An acknowledgement acts on what was there before it (IEC 62682; OPC 10000-9, 5.7.3: the event acknowledged is named).
func TestAcknowledgeNeverReachesALaterOccurrence(t *testing.T) {
	b := newBench(t, false)
	b.all("present 3 s, acknowledge, absent 2 s")
	seen := b.a.Memory().Occurrence
	b.all("present 3 s")
	if _, err := b.a.Acknowledge(b.now, seen); err == nil || b.a.State() != Unacknowledged {
		t.Errorf("got %v in state %s, want a refusal and the second occurrence unacknowledged", err, b.a.State())
	}
	// In the same moment as an activation: the request is made first.
	c := newBench(t, false)
	c.all("present 2 s")
	c.now += time.Second
	c.do("acknowledge")
	c.see(c.a.Evaluate(c.now, Present), nil)
	if c.a.State() != Unacknowledged {
		t.Errorf("got %s, want what came in the moment of the acknowledgement to stay unacknowledged", c.a.State())
	}
}

// All requests act only on what existed before the press; an activation that arrives in the same instant stays
// unacknowledged (ISA-18.2). So also where time brings it: by the re-alarm time, or by the end of shelving.
func TestAcknowledgeNeverReachesWhatComesInItsMoment(t *testing.T) {
	for _, c := range []struct{ way, why string }{
		{"present 3 s, acknowledge, present 59 s", "alarmed again"},
		{"present 3 s, shelve, present 299 s", "came back from the shelf"},
	} {
		for named := range uint64(3) { // whatever is there, what there was, and what only comes
			b := newBench(t, false)
			b.all(c.way)
			occurrence := b.a.Memory().Occurrence
			b.now += time.Second
			_, err := b.a.Acknowledge(b.now, named)
			if m := b.a.Memory(); err == nil || m.State() != Unacknowledged || m.Occurrence != occurrence+1 {
				t.Errorf("%s in the moment of an acknowledgement: got %v, %s, occurrence %d, want a refusal and %d unacknowledged",
					c.why, err, m.State(), m.Occurrence, occurrence+1)
			}
		}
	}
}

// The time until a reading that cannot be believed was one with the condition present (OPC 10000-9, 5.8: on-delay). A
// measurement that is lost at every other reading keeps no alarm from coming.
func TestFlickeringMeasurementAlarms(t *testing.T) {
	b := newBench(t, false)
	for i := range 4 {
		b.see(b.a.Evaluate(b.now, Present), nil)
		if want := i == 3; b.a.Memory().Active != want {
			t.Errorf("active %v after %d s of the condition, want %v with an on-delay of 3 s", !want, i, want)
		}
		b.now += time.Second
		b.see(b.a.Evaluate(b.now, Unknown), nil)
		b.now += time.Second
	}
}

// What is left of a delay survives a restart, but an unavailable value is never read as anything: not as back to normal, nor
// as present (alarm analysis, common practice). So no delay runs before the first reading.
func TestNoDelayRunsBeforeTheFirstReading(t *testing.T) {
	for _, c := range []struct {
		way, rest, from, to string
	}{
		{"present 2 s", "present 1 s", "A", "B"},
		{"present 3 s, absent 1 s", "absent 1 s", "B", "D"},
	} {
		b := newBench(t, false)
		b.all(c.way)
		after := &bench{t: t}
		var err error
		if after.a, err = New(b.a.o, b.a.Memory(), 0); err != nil {
			t.Fatal(err)
		}
		after.all("tick 40 s, " + strings.Replace(c.rest, "1 s", "0 s", 1))
		if got := string(after.a.State().Letter()); got != c.from {
			t.Errorf("%s, a restart and a first reading: got %s, want %s", c.way, got, c.from)
		}
		after.all(c.rest)
		if got := string(after.a.State().Letter()); got != c.to {
			t.Errorf("%s, a restart, %s: got %s, want %s", c.way, c.rest, got, c.to)
		}
	}
}

func TestKeptStateComesBackAsItWas(t *testing.T) {
	for from, way := range ways {
		latch := from == "E" || from == "F"
		b := newBench(t, latch)
		b.all(way)
		b.all("present 1 s") // a delay that has begun, where the alarm is not active
		kept, err := json.Marshal(b.a.Memory())
		if err != nil {
			t.Fatal(err)
		}
		var m Memory
		if err := json.Unmarshal(kept, &m); err != nil {
			t.Fatal(err)
		}
		// The new run counts its time from 0; what was between the two counts for nothing.
		after := &bench{t: t}
		if after.a, err = New(b.a.o, m, 0); err != nil {
			t.Fatal(err)
		}
		remembered := b.a.Memory()
		remembered.Last = Unknown // nothing has been read in this run
		if after.a.State() != b.a.State() || after.a.Memory() != remembered {
			t.Errorf("%s: got %+v, want %+v", from, after.a.Memory(), remembered)
		}
		after.see(after.a.Evaluate(0, Present), nil)
		want, wantDue := b.a.Next()
		if got, due := after.a.Next(); got != want || due != wantDue {
			t.Errorf("%s: got %v left of the next delay, want %v", from, got, want)
		}
		after.all("present 1 s")
		if after.a.m.Active && !b.a.m.Active {
			t.Errorf("%s: active after 2 s of a delay of 3 s", from)
		}
	}
}

// A long random walk. The invariants are worked out from the inputs alone, without the alarm's own memory.
func TestWalkKeepsTheInvariants(t *testing.T) {
	steps := 20_000
	if os.Getenv("MANOBRIDGE_LONG") != "" {
		steps = 1_000_000
	}
	rapid.Check(t, func(rt *rapid.T) {
		if testing.Short() {
			steps = 2000
		}
		walk(t, rapid.Uint64().Draw(rt, "seed"), steps/100, rapid.Bool().Draw(rt, "latch"))
	})
}
