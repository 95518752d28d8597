package demo

import (
	"context"
	"errors"
	"io/fs"
	"maps"
	"math"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"go.bug.st/serial"
	"go.uber.org/goleak"

	"manobridge/cmd/manobridge/demo/simulate"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// patience bounds every wait in these tests.
const patience = 30 * time.Second

func start(t *testing.T, o Options) *Bench {
	t.Helper()
	b, err := Start(t.Context(), o)
	if errors.Is(err, fs.ErrNotExist) && os.Getenv("CI") != "true" {
		t.Skipf("no pseudo-terminals here: %v", err)
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := b.Close(); err != nil {
			t.Errorf("close: %v", err)
		}
		if _, err := os.Stat(b.Dir()); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("working directory %s is still there (%v)", b.Dir(), err)
		}
	})
	return b
}

// listener reads one port through the serial library, as the bridge does, until it has limit bytes or is closed.
type listener struct {
	port serial.Port
	mu   sync.Mutex // around got
	got  []byte
	wg   sync.WaitGroup
	quit chan struct{}
}

// endless is a limit no test reaches.
const endless = math.MaxInt

func listen(t *testing.T, path string, limit int) *listener {
	t.Helper()
	port, err := serial.Open(path, &serial.Mode{BaudRate: 9600, DataBits: 8})
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(port.ResetInputBuffer(), port.SetReadTimeout(5*time.Millisecond)); err != nil {
		t.Fatal(err)
	}
	l := &listener{port: port, quit: make(chan struct{})}
	l.wg.Go(func() {
		buf := make([]byte, 300)
		for {
			n, err := port.Read(buf)
			l.mu.Lock()
			l.got = append(l.got, buf[:n]...)
			full := len(l.got) >= limit
			l.mu.Unlock()
			select {
			case <-l.quit:
				return
			default:
			}
			if err != nil || full {
				return
			}
		}
	})
	return l
}

// close ends reading and gives all that was read.
func (l *listener) close(t *testing.T) string {
	t.Helper()
	close(l.quit)
	l.wg.Wait()
	if err := l.port.Close(); err != nil {
		t.Errorf("close port: %v", err)
	}
	return string(l.got)
}

// TestEveryByteArrives plays three minutes of the story at once, frames spoilt and all, and finds byte for byte on the far
// end what a second simulator of the same seed says was sent.
func TestEveryByteArrives(t *testing.T) {
	const play, rate = 3 * time.Minute, 0.1
	b := start(t, Options{Seed: 17, For: play, CorruptRate: rate, AtOnce: true})
	var listeners []*listener
	for _, l := range b.lines {
		listeners = append(listeners, listen(t, l.path, endless))
	}
	select {
	case <-b.Done():
	case <-time.After(patience):
		t.Error("the writers have not ended")
	}
	if err := b.Err(); err != nil {
		t.Error(err)
	}

	twin, err := simulate.Build(simulate.TestHall(), 17)
	if err != nil {
		t.Fatal(err)
	}
	written := map[string]int{}
	due, size := 0, int64(0)
	for i, l := range listeners {
		var want strings.Builder
		line := twin.Line(twin.Declared.Ports[i].Name, rate)
		for f := line.Next(); f.At < play; f = line.Next() {
			want.Write(f.Bytes)
			written[f.Fate.String()]++
			due += f.Fate.Readings()
		}
		size += int64(want.Len())
		// The empty lines before the first frame are for the reader to find the start by; how many of their bytes it
		// sees depends on when it opened.
		got := strings.TrimLeft(l.close(t), "\r\n")
		if got != want.String() {
			t.Errorf("%s: got %d bytes, want %d, and they differ from byte %d", b.lines[i].name, len(got), want.Len(), firstDifference(got, want.String()))
		}
	}
	a := b.Ledger().Account()
	if !maps.Equal(a.Written, written) || a.Due != due || a.Bytes != size {
		t.Errorf("ledger: got %v, %d due, %d bytes; want %v, %d, %d", a.Written, a.Due, a.Bytes, written, due, size)
	}
}

func firstDifference(a, b string) int {
	for i := range min(len(a), len(b)) {
		if a[i] != b[i] {
			return i
		}
	}
	return min(len(a), len(b))
}

// TestNothingIsSentBeforeEverybodyListens: with one of two ports open, the other's reader would lose the start.
func TestNothingIsSentBeforeEverybodyListens(t *testing.T) {
	b := start(t, Options{Seed: 1, AtOnce: true})
	first := listen(t, b.lines[0].path, endless)
	// Quiesce ends the wait for the second; had the first line been served meanwhile, frames would be on it.
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	if err := b.lines[0].drained(ctx); err != nil {
		t.Fatal(err)
	}
	if err := b.Quiesce(ctx); err != nil {
		t.Errorf("quiesce: %v", err)
	}
	if got := strings.TrimLeft(first.close(t), "\r\n"); got != "" {
		t.Errorf("got %q before the other port was opened, want nothing", got)
	}
	if a := b.Ledger().Account(); len(a.Written) != 0 {
		t.Errorf("ledger: got %v, want nothing", a.Written)
	}
}

// TestQuiesceSaysWhatIsLeft: readers that stop reading leave the lines full; the writers must end all the same, and
// name a line.
func TestQuiesceSaysWhatIsLeft(t *testing.T) {
	b := start(t, Options{Seed: 1, AtOnce: true})
	var stalled []*listener
	for _, l := range b.lines {
		stalled = append(stalled, listen(t, l.path, 1000))
	}
	for _, l := range stalled {
		l.wg.Wait() // until it has its 1000 bytes
	}
	waiting, done := context.WithTimeout(t.Context(), patience)
	defer done()
	if err := poll(waiting, 1, func() (bool, error) { n, err := b.lines[0].unread(); return n > 0, err }); err != nil {
		t.Fatalf("nothing is left unread: %v", err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 200*time.Millisecond)
	defer cancel()
	err := b.Quiesce(ctx)
	if !errors.Is(err, context.Canceled) || !strings.Contains(err.Error(), b.lines[0].path) && !strings.Contains(err.Error(), b.lines[1].path) {
		t.Errorf("got %v, want the line that is not read, and that writing was ended", err)
	}
	for _, l := range stalled {
		l.close(t)
	}
}

func TestBrokerTakesAndGives(t *testing.T) {
	b := start(t, Options{Seed: 1})
	got := make(chan string, 1)
	client := mqtt.NewClient(mqtt.NewClientOptions().AddBroker(b.BrokerURL()).SetClientID("test").SetProtocolVersion(4).SetAutoReconnect(false))
	ok := func(what string, token mqtt.Token) {
		t.Helper()
		if err := mqtt.WaitTokenTimeout(token, patience); err != nil {
			t.Fatalf("%s: %v", what, err)
		}
	}
	ok("connect", client.Connect())
	defer client.Disconnect(0)
	ok("subscribe", client.Subscribe("manobridge/+/+/pressure", 1, func(_ mqtt.Client, m mqtt.Message) { got <- string(m.Payload()) }))
	ok("publish", client.Publish("manobridge/test-hall/bank-a/pressure", 1, false, "{}"))
	select {
	case payload := <-got:
		if payload != "{}" {
			t.Errorf("got %q, want {}", payload)
		}
	case <-time.After(patience):
		t.Error("the broker passed nothing on")
	}
}

func TestConfigLiesWhereItSays(t *testing.T) {
	b := start(t, Options{Seed: 3})
	text, err := os.ReadFile(b.ConfigPath())
	if err != nil {
		t.Fatal(err)
	}
	if string(text) != b.Config() {
		t.Error("the file and Config differ")
	}
	for _, want := range []string{b.lines[0].path, b.lines[1].path, b.BrokerURL(), b.JournalPath()} {
		if !strings.Contains(b.Config(), want) {
			t.Errorf("the configuration does not name %s", want)
		}
	}
}

func TestStartRefuses(t *testing.T) {
	for _, rate := range []float64{-0.1, 1.1} {
		if b, err := Start(t.Context(), Options{CorruptRate: rate}); err == nil {
			t.Errorf("corrupt rate %g: got none, want an error", rate)
			b.Close()
		}
	}
	hall := simulate.TestHall()
	hall.Instruments[0].Liquid = "mead"
	if b, err := Start(t.Context(), Options{Hall: &hall}); err == nil {
		t.Error("unknown liquid: got none, want an error")
		b.Close()
	}
}
