package mqtt_test

import (
	"bufio"
	"bytes"
	"context"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/publish"
	"manobridge/publish/journal"
	"manobridge/publish/mqtt"
	"manobridge/publish/publishtest"
)

// A broker that was away for a day: what was kept drains in order, on its own topic and with nothing missing, in flat
// memory, and live values do not wait for it. A day of 1 000 000 readings with MANOBRIDGE_LONG=1, else 20 000.
func TestBrokerAwayForADay(t *testing.T) {
	n := uint64(20_000)
	if os.Getenv("MANOBRIDGE_LONG") == "1" {
		n = 1_000_000
	}
	publishtest.Watch(t)
	broker := publishtest.Mosquitto(t)
	path := publishtest.Binary(t, "mosquitto_sub")
	began := time.Now()
	j, err := journal.Open(t.Context(), journal.Options{Path: filepath.Join(t.TempDir(), "journal.db"), Run: "day", Bridge: bridge})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = j.Close() })
	const group = 2000
	for seq := uint64(1); seq <= n; seq += group {
		if err := j.Append(t.Context(), publishtest.Series("day", room, seq, seq+group-1)); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("%d readings kept in %v", n, time.Since(began).Round(time.Millisecond))

	// The subscriber is read as a stream, so that it does not weigh in the memory that is measured.
	host, port, _ := net.SplitHostPort(broker.Addr)
	sub := exec.Command(path, "-h", host, "-p", port, "-q", "1", "-i", "day", "-F", "%t %p",
		"-t", topic(room, "backlog"), "-t", topic(room, "pressure"), "-t", "$SYS/broker/version")
	out, err := sub.StdoutPipe()
	if err == nil {
		err = sub.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	var stands atomic.Bool
	var late, liveAt atomic.Int64
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		lines := bufio.NewReader(out)
		for {
			line, err := lines.ReadBytes('\n')
			if err != nil {
				return // killed
			}
			on, text, _ := bytes.Cut(line, []byte(" "))
			switch {
			case bytes.HasPrefix(on, []byte("$SYS")):
				stands.Store(true)
			case bytes.HasSuffix(on, []byte("/pressure")):
				liveAt.CompareAndSwap(0, time.Now().UnixNano())
			default:
				_, after, _ := strings.Cut(string(text), `"seq":`)
				digits := after[:max(0, strings.IndexAny(after, ",}"))]
				if seq, err := strconv.ParseInt(digits, 10, 64); err != nil || seq > late.Load()+1 {
					t.Errorf("got seq %q in the backlog after %d, want the next: in order, none missing", digits, late.Load())
					return
				} else if seq == late.Load()+1 {
					late.Store(seq)
				}
			}
		}
	}()
	t.Cleanup(func() { _ = sub.Process.Kill(); <-ended; _ = sub.Wait() })
	publishtest.Eventually(t, "the subscription", stands.Load)

	start0 := time.Now()
	s, err := mqtt.New(options(broker.Addr, new(said)))
	if err != nil {
		t.Fatal(err)
	}
	o, err := publish.NewOutbox(publish.Options{Rows: j, Sink: s, Run: "now", SinceStart: func() time.Duration { return time.Since(start0) },
		BacklogPerSecond: 1e5})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ran := make(chan error, 2)
	heap := func() int64 {
		var m runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&m)
		return int64(m.HeapAlloc)
	}
	before, most := heap(), int64(0)
	go func() { ran <- s.Run(context.Background()) }()
	t.Cleanup(func() {
		cancel()
		if err := <-ran; err != nil {
			t.Errorf("at the stop: got %v, want nil", err)
		}
		_ = s.Close()
		if err := <-ran; err != nil {
			t.Errorf("at the stop: got %v, want nil", err)
		}
	})
	ready(t, s)
	up := time.Now()
	live := publishtest.Result("now", room, 1)
	live.SinceStart, live.ReceivedAt = time.Since(start0), up
	if err := j.Append(t.Context(), []convert.Result{live}); err != nil {
		t.Fatal(err)
	}
	go func() { ran <- o.Run(ctx) }()
	publishtest.Eventually(t, "a live value", func() bool { return liveAt.Load() != 0 })
	if wait := time.Duration(liveAt.Load() - up.UnixNano()); wait > 5*time.Second {
		t.Errorf("got the first live value %v after the connection, want within 5 s on a busy machine", wait)
	} else {
		t.Logf("first live value %v after the connection", wait.Round(time.Millisecond))
	}
	for tick := time.NewTicker(200 * time.Millisecond); late.Load() < int64(n); <-tick.C {
		most = max(most, heap()-before)
		if time.Since(up) > 20*time.Minute || t.Failed() {
			t.Fatalf("got %d of %d readings in %v", late.Load(), n, time.Since(up))
		}
	}
	took := time.Since(up)
	t.Logf("backlog drained in %v, %.0f/s, heap grew by %.1f MB at most", took.Round(time.Millisecond), float64(n)/took.Seconds(), float64(most)/1e6)
	const bound = 32 << 20 // two lanes of 500 rows and two windows of messages are far less
	if most > bound {
		t.Errorf("got a heap larger by %d bytes, want at most %d, however long the backlog", most, bound)
	}
}
