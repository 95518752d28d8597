package main

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"manobridge/cmd/manobridge/bridge"
	"manobridge/convert"
	"manobridge/ingest/ingesttest"
	"manobridge/publish"
	"manobridge/publish/journal"
	"manobridge/publish/publishtest"
)

// numberedFrame is frame number i of an address: the position counts in hundredths of a millimetre, and the temperature goes on by
// a hundredth of a degree when it is through.
func numberedFrame(address string, i int) string {
	return fmt.Sprintf("%s,%.2f,%.2f", address, 20+float64(i%numbers)/100, 18+float64(i/numbers)/100)
}

const numbers = 25000 // positions that numberedFrame counts through

// numberOf is the inverse of numberedFrame.
func numberOf(raw []byte) (i int, ok bool) {
	var address, mm, cmm, degrees, hundredths int
	if n, err := fmt.Sscanf(string(raw), "%d,%d.%d,%d.%d", &address, &mm, &cmm, &degrees, &hundredths); n != 5 || err != nil {
		return 0, false
	}
	i = (mm-20)*100 + cmm + numbers*((degrees-18)*100+hundredths)
	return i, numberedFrame(fmt.Sprintf("%02d", address), i) == string(raw)
}

// numberedFrames writes frames of a running number for both instruments, each address 250 times in a second, until halt
// is called, also while nobody reads. It gives how many it wrote to each.
func numberedFrames(t *testing.T, line *ingesttest.Line) (halt func() int) {
	t.Helper()
	stop, ended := make(chan struct{}), make(chan struct{})
	sent := 0
	go func() {
		defer close(ended)
		tick := time.NewTicker(4 * time.Millisecond)
		defer tick.Stop()
		for {
			select {
			case <-stop:
				return
			case <-tick.C:
			}
			line.Send(numberedFrame("02", sent) + "\n" + numberedFrame("03", sent) + "\n")
			sent++
		}
	}()
	end := sync.OnceFunc(func() { close(stop); <-ended })
	t.Cleanup(end)
	return func() int { end(); return sent }
}

// The program is killed at random moments while 500 frames in a second flow, and started anew on the same journal. Every
// row that was committed before a kill reaches broker and store unaltered; and of every frame there is one row, or it lies in
// a recorded gap of its instrument.
func TestKilledProgramLosesNothingKept(t *testing.T) {
	publishtest.Watch(t)
	kills := 20
	if os.Getenv("MANOBRIDGE_LONG") == "1" {
		kills = 200
	}
	program := program(t)
	broker, store := publishtest.Mosquitto(t), publishtest.InfluxDB(t, "pressure")
	subscriber := publishtest.Subscribe(t, broker.Addr, []string{"manobridge/test-hall/+/pressure", "manobridge/test-hall/+/backlog"})
	line := ingesttest.NewLine(t)
	path := filepath.Join(t.TempDir(), "manobridge.db")
	config := writeConfig(t, line.Path, path, fmt.Sprintf(`publish:
  mqtt: {url: "tcp://%s", backlog_per_s: 100000}
  series: {url: %q, bucket: pressure}`, broker.Addr, store.URL()))
	halt := numberedFrames(t, line)
	committed, last := map[convert.Name]publish.Row{}, int64(0)
	for kill := range kills {
		seen := subscriber.Count()
		d := launch(t, program, config)
		// Most are killed once results go out; every fourth at any moment, the start included.
		if kill%4 != 3 {
			publishtest.Eventually(t, "results go out", func() bool { return subscriber.Count() > seen })
		}
		<-time.After(time.Duration(rand.Int64N(int64(600 * time.Millisecond))))
		d.signal(syscall.SIGKILL)
		d.status()
		now, _ := keptAfter(t, path, last)
		for name, row := range now {
			committed[name], last = row, max(last, row.ID)
		}
	}
	d := launch(t, program, config)
	d.says("code=bridge-started")
	seen := subscriber.Count()
	publishtest.Eventually(t, "results go out", func() bool { return subscriber.Count() > seen })
	sent := halt()
	publishtest.Eventually(t, "the last frames", func() bool {
		now, _ := keptAfter(t, path, last)
		n := 0
		for _, row := range now {
			if i, ok := numberOf(row.Frame); ok && i == sent-1 {
				n++
			}
		}
		return n == 2
	})
	d.signal(syscall.SIGTERM)
	if got := d.status(); got != exitDone {
		t.Errorf("got exit status %d after SIGTERM, want %d", got, exitDone)
	}
	now, gaps := kept(t, path)
	for name, row := range committed {
		got, ok := now[name]
		if !ok || got.ID != row.ID || !got.ReceivedAt.Equal(row.ReceivedAt) {
			t.Fatalf("%+v was in the journal after a kill and is not any more, or at another time", name)
		}
		if d := publishtest.Difference(got.Result, row.Result); d != "" {
			t.Fatalf("%+v was in the journal after a kill and is altered: %s", name, d)
		}
	}
	if strings.Contains(d.said(), "not delivered before the stop") { // what it came too late for is the next run's
		d = launch(t, program, config)
		d.says("code=bridge-started")
	}
	waitFor(t, subscriber, now)
	holdStored(t, store, now)
	for _, instrument := range []string{"bank-1", "bank-2"} {
		holdBalance(t, instrument, sent, now, gaps)
	}
	t.Logf("%d kills, %d frames, %d results, %d gaps", kills, 2*sent, len(now), len(gaps))
}

// holdBalance holds that each frame sent to the instrument, from the first that was heard on, has one row, or lies between two
// rows that a recorded gap reaches over.
func holdBalance(t *testing.T, instrument string, sent int, rows map[convert.Name]publish.Row, gaps []journal.Gap) {
	t.Helper()
	byNumber, other := map[int]publish.Row{}, 0
	for name, row := range rows {
		if name.Instrument != instrument {
			continue
		}
		i, ok := numberOf(row.Frame)
		if !ok {
			other++
			t.Errorf("%+v: got a row of %q with %v, want rows of whole frames alone", name, row.Frame, row.Causes)
			continue
		}
		if two, twice := byNumber[i]; twice {
			t.Errorf("%s: frame %d is in two rows, %+v and %+v", instrument, i, two.Name, name)
		}
		byNumber[i] = row
		if low := row.Low.V.Millimetres(); fmt.Sprintf("%.2f", low) != fmt.Sprintf("%.2f", 20+float64(i%numbers)/100) {
			t.Errorf("%+v: got %.2f mm of frame %q", name, low, row.Frame)
		}
	}
	const moved = 100 * time.Microsecond // what the time of a row may be moved by to be its own
	before := publish.Row{}
	missing, unexplained, within := 0, 0, 0
	for i := range sent {
		row, ok := byNumber[i]
		switch {
		case !ok && before.ID != 0:
			missing++
			within++
		case ok && within > 0:
			covered := false
			for _, g := range gaps {
				covered = covered || g.Instrument == instrument && g.Cause == bridge.CauseBridgeDown && g.Run == row.Run &&
					!g.From.After(before.ReceivedAt) && !g.Until.Before(row.ReceivedAt.Add(-moved))
			}
			if !covered {
				if unexplained += within; unexplained == within {
					t.Errorf("%s: %d frames from %d until %d, between %+v at %v and %+v at %v, have no row and lie in no gap of no bridge running: %+v",
						instrument, within, i-within, i-1, before.Name, before.ReceivedAt, row.Name, row.ReceivedAt, gaps)
				}
			}
			within = 0
		}
		if ok {
			before = row
		}
	}
	if within > 0 || unexplained > 0 {
		t.Errorf("%s: got %d frames neither in a row nor in a gap, and %d after the last row, want none", instrument, unexplained, within)
	}
	t.Logf("%s: %d frames = %d rows + %d in gaps + those before the first row", instrument, sent, len(byNumber)+other, missing)
}

// holdStored holds the pressures in the store, at their nanosecond, against the journal.
func holdStored(t *testing.T, store *publishtest.Server, rows map[convert.Name]publish.Row) {
	t.Helper()
	type key struct {
		instrument, field string
		ns                int64
	}
	publishtest.Eventually(t, "every result in the store", func() bool {
		return publishtest.CountInfluxDB(t, store, "pressure", "manometer", "seq") >= len(rows)
	})
	got := map[key]float64{}
	for _, s := range publishtest.ReadInfluxDB(t, store, "pressure", "manometer") {
		got[key{s.Instrument, s.Field, s.Time.UnixNano()}] = s.Value
	}
	for name, row := range rows {
		at := row.ReceivedAt.UnixNano()
		if v, ok := got[key{name.Instrument, "seq", at}]; !ok || v != float64(row.Seq) {
			t.Fatalf("%+v: got seq %v (%v) in the store, want it", name, v, ok)
		}
		pa, has := row.Pressure()
		if v, ok := got[key{name.Instrument, "differential_pressure_pa", at}]; ok != has || has && v != pa {
			t.Fatalf("%+v: got %v Pa (%v) in the store, want %v (%v)", name, v, ok, pa, has)
		}
	}
}
