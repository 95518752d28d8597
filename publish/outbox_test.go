package publish_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"manobridge/convert"
	"manobridge/publish"
	"manobridge/publish/publishtest"
)

// bench is one outbox between doubles, inside a synctest bubble.
type bench struct {
	t     *testing.T
	rows  *publishtest.Rows
	sink  *publishtest.FaultySink
	start time.Time
	seq   uint64
	log   bytes.Buffer // read it after the outbox has ended
}

const thisRun = "r2"

func newBench(t *testing.T) *bench {
	return &bench{t: t, rows: publishtest.NewRows(), sink: &publishtest.FaultySink{}, start: time.Now()}
}

// read makes n results read now.
func (b *bench) read(n int) []convert.Result {
	var out []convert.Result
	for range n {
		b.seq++
		r := publishtest.Result(thisRun, "suite-a", b.seq)
		r.SinceStart = time.Since(b.start)
		out = append(out, r)
	}
	b.rows.Add(out...)
	return out
}

// run starts the outbox and returns what stops it, waits for it, and gives its error.
func (b *bench) run(change func(*publish.Options)) (o *publish.Outbox, stop func()) {
	b.t.Helper()
	opt := publish.Options{Rows: b.rows, Sink: b.sink, Run: thisRun,
		SinceStart: func() time.Duration { return time.Since(b.start) },
		Logger:     slog.New(slog.NewTextHandler(&b.log, nil))}
	if change != nil {
		change(&opt)
	}
	o, err := publish.NewOutbox(opt)
	if err != nil {
		b.t.Fatalf("NewOutbox: %v", err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- o.Run(ctx) }()
	return o, func() {
		b.t.Helper()
		cancel()
		if err := <-ended; err != nil {
			b.t.Errorf("Run: got %v, want nil after a stop", err)
		}
	}
}

// said counts the log lines with a code.
func (b *bench) said(code string) int { return strings.Count(b.log.String(), "code="+code+" ") }

func ids(rows []publish.Row) []int64 {
	out := make([]int64, len(rows))
	for i := range rows {
		out[i] = rows[i].ID
	}
	return out
}

func from(first, last int64) (out []int64) {
	for id := first; id <= last; id++ {
		out = append(out, id)
	}
	return out
}

func same(t *testing.T, what string, got, want []int64) {
	t.Helper()
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("%s: got rows %v, want %v", what, got, want)
	}
}

func transient(acked int) *publish.DeliverError {
	return &publish.DeliverError{Acked: acked, Code: "test-down", Err: errors.New("no route")}
}

func TestLiveRowsGoAtOnceAndTheRestOfAnEarlierRunGoesLate(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		b.rows.Add(publishtest.Series("r1", "suite-a", 1, 50)...)
		o, stop := b.run(nil)
		b.read(3)
		synctest.Wait()
		same(t, "live without a wait", ids(b.sink.Live()), from(51, 53))
		time.Sleep(time.Second) // fake time: the backlog goes at 200 rows a second
		synctest.Wait()
		same(t, "late", ids(b.sink.Late()), from(1, 50))
		s := o.Stats()
		if s.Live != 3 || s.Late != 50 || s.Lag != 0 || s.Link != publish.LinkUp || s.Cursor.Live != 53 || len(s.Cursor.Late) != 0 {
			t.Errorf("Stats: got %+v, want 3 live, 50 late, no lag, up, cursor 53", s)
		}
		stop()
		if c, _, _ := b.rows.Cursor(context.Background(), "faulty"); c.Live != 53 || len(c.Late) != 0 {
			t.Errorf("cursor kept: got %+v, want 53 and nothing late", c)
		}
	})
}

// After an outage what is old goes late, what is young goes live and first, and the log says two things.
func TestOutage(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		down := true
		b.sink.Answer = func(context.Context, []publish.Row) *publish.DeliverError {
			if down {
				return transient(0)
			}
			return nil
		}
		o, stop := b.run(nil)
		for range 600 { // ten minutes at one reading a second
			b.read(1)
			time.Sleep(time.Second)
		}
		synctest.Wait()
		if s := o.Stats(); s.Link != publish.LinkDown || s.Lag != 600 || s.LastError == "" {
			t.Errorf("in the outage: got %+v, want down, 600 rows behind, an error", s)
		} else if len(s.Cursor.Late) != 1 {
			t.Errorf("in the outage: got the late ranges %v, want one: nothing was delivered in between", s.Cursor.Late)
		}
		b.sink.Change(func() { down = false })
		for range 60 {
			b.read(1)
			time.Sleep(time.Second)
		}
		synctest.Wait()
		stop()
		live, late := b.sink.Live(), b.sink.Late()
		if len(live)+len(late) != 660 {
			t.Errorf("got %d live and %d late rows, want 660 in all", len(live), len(late))
		}
		same(t, "late rows in order", ids(late), from(1, int64(len(late))))
		if first := live[0]; first.ID != int64(len(late))+1 || len(live) < 30 {
			t.Errorf("got %d live rows, the first %d, want at least 30, right after the late ones", len(live), first.ID)
		}
		for _, code := range []string{"sink-down", "sink-up"} {
			if n := b.said(code); n != 1 {
				t.Errorf("got %d lines of %s, want 1:\n%s", n, code, &b.log)
			}
		}
		if _, largest := b.sink.Tries(); largest > 500 {
			t.Errorf("got a batch of %d rows, want at most 500", largest)
		}
	})
}

func TestOneRefusedRowIsFoundAndPutAside(t *testing.T) {
	for _, oneLane := range []bool{false, true} {
		t.Run(fmt.Sprintf("one lane %v", oneLane), func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				b := newBench(t)
				const bad = 377
				b.sink.Answer = func(_ context.Context, batch []publish.Row) *publish.DeliverError {
					for i := range batch {
						if batch[i].ID == bad {
							return &publish.DeliverError{Class: publish.Content, Code: "test-content", Err: errors.New("field type conflict")}
						}
					}
					return nil
				}
				b.read(1000)
				o, stop := b.run(func(opt *publish.Options) { opt.OneLane = oneLane })
				synctest.Wait()
				stop()
				same(t, "delivered", ids(b.sink.Live()), append(from(1, bad-1), from(bad+1, 1000)...))
				if q := b.rows.Quarantined("faulty"); len(q) != 1 || !strings.Contains(q[bad], "field type conflict") {
					t.Errorf("quarantine: got %v, want row %d with its reason", q, bad)
				}
				// Halving 500 rows takes 9 steps; each may cost a refused and a taken delivery.
				if tries, _ := b.sink.Tries(); tries > 3+2*9 {
					t.Errorf("got %d deliveries, want at most 21", tries)
				}
				if s := o.Stats(); s.Quarantined != 1 || b.said("row-quarantined") != 1 {
					t.Errorf("got %+v and %d log lines, want 1 row put aside and 1 line", s, b.said("row-quarantined"))
				}
			})
		})
	}
}

// A far end that refuses everything is not to empty the journal into quarantine at full speed.
func TestFarEndThatRefusesEverythingIsHeld(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		b.sink.Answer = func(context.Context, []publish.Row) *publish.DeliverError {
			return &publish.DeliverError{Class: publish.Content, Code: "test-content", Err: errors.New("no")}
		}
		b.read(5000)
		o, stop := b.run(func(opt *publish.Options) { opt.OneLane = true })
		time.Sleep(10 * time.Minute)
		if s := o.Stats(); s.Quarantined > 21+20 || s.Link != publish.LinkRefused {
			t.Errorf("after 10 min: got %d rows put aside, link %s, want at most 41 and refused", s.Quarantined, s.Link)
		}
		stop()
		if n := b.said("sink-refused"); n != 1 {
			t.Errorf("got %d lines of sink-refused, want 1", n)
		}
	})
}

func TestRefusalOfTheBridgeHoldsEverything(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		refuse := true
		b.sink.Answer = func(context.Context, []publish.Row) *publish.DeliverError {
			if refuse {
				return &publish.DeliverError{Class: publish.Configuration, Code: "test-login", Err: errors.New("wrong token")}
			}
			return nil
		}
		b.read(10)
		o, stop := b.run(func(opt *publish.Options) { opt.OneLane = true })
		time.Sleep(time.Hour)
		if tries, _ := b.sink.Tries(); tries > 121 || o.Stats().Link != publish.LinkRefused || o.Stats().Cursor.Live != 0 {
			t.Errorf("after 1 h: got %d tries, %+v, want at most 121, refused, cursor 0", tries, o.Stats())
		}
		b.sink.Change(func() { refuse = false })
		time.Sleep(time.Minute)
		stop()
		same(t, "delivered when let in", ids(b.sink.Live()), from(1, 10))
		if b.said("sink-refused") != 1 || b.said("sink-up") != 1 || len(b.rows.Quarantined("faulty")) != 0 {
			t.Errorf("want one sink-refused, one sink-up, nothing put aside:\n%s", &b.log)
		}
	})
}

func TestRowTheLinkIsLostOnEveryTimeIsPutAside(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		losses := 0
		b.sink.Answer = func(_ context.Context, batch []publish.Row) *publish.DeliverError {
			for i := range batch {
				if batch[i].ID == 7 {
					if len(batch) == 1 {
						losses++
					}
					return &publish.DeliverError{Acked: i, Class: publish.Suspect, Code: "test-lost", Err: errors.New("connection lost")}
				}
			}
			return nil
		}
		b.read(20)
		_, stop := b.run(func(opt *publish.Options) { opt.OneLane = true })
		time.Sleep(10 * time.Minute)
		stop()
		same(t, "delivered", ids(b.sink.Live()), append(from(1, 6), from(8, 20)...))
		if q := b.rows.Quarantined("faulty"); len(q) != 1 || q[7] == "" || losses != 5 {
			t.Errorf("got quarantine %v after %d losses of the single row, want row 7 after 5", q, losses)
		}
	})
}

// What is acknowledged before the failure is not sent again.
func TestAcknowledgedPrefixCounts(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		first := true
		b.sink.Answer = func(_ context.Context, batch []publish.Row) *publish.DeliverError {
			if first {
				first = false
				return transient(4)
			}
			return nil
		}
		b.read(10)
		_, stop := b.run(nil)
		time.Sleep(time.Second)
		stop()
		same(t, "delivered once", ids(b.sink.Live()), from(1, 10))
	})
}

// A far end that asks for a pause gets it, and one that asks for days does not stop the bridge for days.
func TestPauseTheFarEndAsksFor(t *testing.T) {
	for _, c := range []struct{ asked, least, most time.Duration }{
		{2 * time.Minute, 2 * time.Minute, 2*time.Minute + time.Second},
		{48 * time.Hour, 10 * time.Minute, time.Hour},
	} {
		synctest.Test(t, func(t *testing.T) {
			b := newBench(t)
			var tried []time.Time
			b.sink.Answer = func(context.Context, []publish.Row) *publish.DeliverError {
				if tried = append(tried, time.Now()); len(tried) == 1 {
					e := transient(0)
					e.After = c.asked
					return e
				}
				return nil
			}
			b.read(1)
			_, stop := b.run(func(opt *publish.Options) { opt.OneLane = true })
			time.Sleep(2 * time.Hour)
			stop()
			if len(tried) != 2 {
				t.Fatalf("got %d tries, want 2", len(tried))
			}
			if got := tried[1].Sub(tried[0]); got < c.least || got > c.most {
				t.Errorf("asked for %v: got a pause of %v, want %v to %v", c.asked, got, c.least, c.most)
			}
		})
	}
}

// At a stop what is live and waiting goes out still, also what is read between the end of a pause and the stop.
func TestStopDeliversWhatIsLive(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		_, stop := b.run(nil)
		b.read(1)
		synctest.Wait()
		b.read(700)
		stop()
		same(t, "delivered", ids(b.sink.Live()), from(1, 701))
	})
}

// A far end that hangs does not keep the bridge from stopping.
func TestStopIsBounded(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		b.sink.Answer = func(ctx context.Context, _ []publish.Row) *publish.DeliverError {
			<-ctx.Done()
			return &publish.DeliverError{Err: ctx.Err()}
		}
		_, stop := b.run(func(opt *publish.Options) { opt.DrainWithin = 3 * time.Second })
		b.read(1)
		synctest.Wait()
		before := time.Now()
		stop()
		if took := time.Since(before); took != 3*time.Second {
			t.Errorf("got a stop after %v, want after 3 s", took)
		}
	})
}

// Numbers the journal has no row for are passed over, in both lanes.
func TestPrunedRowsArePassed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		if err := b.rows.SaveCursor(context.Background(), "faulty",
			publish.Cursor{Live: 40, Late: []publish.Range{{From: 0, Until: 30}}}); err != nil {
			t.Fatal(err)
		}
		b.rows.Skip(50)
		o, stop := b.run(nil)
		time.Sleep(time.Second)
		b.read(2)
		synctest.Wait()
		same(t, "delivered", ids(b.sink.Live()), from(51, 52))
		if s := o.Stats(); s.Lag != 0 {
			t.Errorf("got %+v, want no lag", s)
		}
		stop()
	})
}

func TestCursorIsKeptEverySecondOrHundredRows(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		_, stop := b.run(nil)
		defer stop()
		kept := func() int64 {
			c, _, err := b.rows.Cursor(context.Background(), "faulty")
			if err != nil {
				t.Fatal(err)
			}
			return c.Live
		}
		b.read(10)
		synctest.Wait()
		if got := kept(); got != 0 {
			t.Errorf("at once: got cursor %d kept, want none yet", got)
		}
		b.read(100)
		synctest.Wait()
		if got := kept(); got != 110 {
			t.Errorf("after 110 rows: got cursor %d kept, want 110", got)
		}
		b.read(1)
		time.Sleep(1100 * time.Millisecond)
		if got := kept(); got != 111 {
			t.Errorf("after a second: got cursor %d kept, want 111", got)
		}
		before := b.rows.Saves()
		time.Sleep(time.Hour)
		if got := b.rows.Saves(); got != before {
			t.Errorf("idle: got %d cursors kept in an hour, want none", got-before)
		}
	})
}

func TestOptionsAreChecked(t *testing.T) {
	good := publish.Options{Rows: publishtest.NewRows(), Sink: &publishtest.FaultySink{}, Run: "r", SinceStart: func() time.Duration { return 0 }}
	for name, spoil := range map[string]func(*publish.Options){
		"no rows": func(o *publish.Options) { o.Rows = nil }, "no sink": func(o *publish.Options) { o.Sink = nil },
		"no run": func(o *publish.Options) { o.Run = "" }, "no clock": func(o *publish.Options) { o.SinceStart = nil },
		"negative rate": func(o *publish.Options) { o.BacklogPerSecond = -1 },
	} {
		opt := good
		spoil(&opt)
		if _, err := publish.NewOutbox(opt); err == nil {
			t.Errorf("%s: got no error, want one", name)
		}
	}
	if _, err := publish.NewOutbox(good); err != nil {
		t.Errorf("got %v, want none", err)
	}
}
