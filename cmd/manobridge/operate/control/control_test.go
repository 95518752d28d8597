package control

import (
	"context"
	"errors"
	"log/slog"
	"net"
	"os"
	"os/user"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

const patience = 30 * time.Second

// socketPath is a short one: the kernel takes 107 bytes (unix(7)).
func socketPath(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "control")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := os.RemoveAll(dir); err != nil {
			t.Error(err)
		}
	})
	return filepath.Join(dir, "s")
}

// serve runs a server until the test ends.
func serve(t *testing.T, socket string, handlers map[string]Handler) (stop func()) {
	t.Helper()
	s := NewServer(socket, slog.New(slog.DiscardHandler))
	for name, h := range handlers {
		if err := s.Handle(name, h); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Open(); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- s.Run(ctx) }()
	stopped := false
	stop = func() {
		if stopped {
			return
		}
		stopped = true
		cancel()
		select {
		case err := <-done:
			if err != nil {
				t.Errorf("got %v at the stop, want nil", err)
			}
		case <-time.After(patience):
			t.Error("the server does not stop")
		}
	}
	t.Cleanup(stop)
	return stop
}

func TestRequestsAreAnsweredInTheNameOfTheCaller(t *testing.T) {
	socket := socketPath(t)
	got := make(chan Request, 1)
	serve(t, socket, map[string]Handler{"view": func(_ context.Context, r Request) Answer {
		got <- r
		return Done("looked", map[string]int{"rows": 3})
	}})
	c := NewClient(socket)
	defer c.Close()
	var data struct{ Rows int }
	a, err := c.Ask(t.Context(), Request{Name: "view", Subject: "bank-1", Why: "round"}, map[string]string{"for": "30s"}, &data)
	if err != nil || !a.Done || a.Code != CodeDone || data.Rows != 3 {
		t.Fatalf("got %+v with %+v and %v, want done with 3 rows", a, data, err)
	}
	r := <-got
	me, err := user.Current()
	if err != nil {
		t.Fatal(err)
	}
	if r.User != me.Username || r.Subject != "bank-1" || r.Why != "round" || string(r.Args) != `{"for":"30s"}` {
		t.Errorf("got %+v, want it from %s as it was sent", r, me.Username)
	}
	info, err := os.Stat(socket)
	if err != nil {
		t.Fatal(err)
	}
	if info.Mode().Perm() != 0o660 {
		t.Errorf("got mode %v, want -rw-rw----: owner and group alone", info.Mode().Perm())
	}
}

func TestRequestsThatAreNotTaken(t *testing.T) {
	socket := socketPath(t)
	serve(t, socket, map[string]Handler{"view": func(context.Context, Request) Answer { return Done("", nil) }})
	c := NewClient(socket)
	defer c.Close()
	for _, k := range []struct {
		r    Request
		code string
		says string
	}{
		{Request{Name: "veiw"}, CodeNoRequest, "it knows view"},
		{Request{Name: "view", Why: strings.Repeat("x", longestWhy+1)}, CodeNoWhy, "1024"},
		{Request{Name: "view", Subject: strings.Repeat("x", largestRequest)}, CodeTooLarge, "nothing was done"},
	} {
		a, err := c.Do(t.Context(), k.r)
		if err != nil || a.Done || a.Code != k.code || !strings.Contains(a.Text, k.says) {
			t.Errorf("%.20s: got %+v and %v, want code %s that says %q", k.r.Name, a, err, k.code, k.says)
		}
	}
}

// A person who presses Ctrl-C, or whose connection is gone, ends what was asked.
func TestTheHandlerHearsThatTheCallerHasGone(t *testing.T) {
	socket := socketPath(t)
	began, ended := make(chan struct{}), make(chan struct{})
	serve(t, socket, map[string]Handler{"zero": func(ctx context.Context, _ Request) Answer {
		close(began)
		<-ctx.Done()
		close(ended)
		return Refuse("cancelled", "gone")
	}})
	c := NewClient(socket)
	defer c.Close()
	ctx, cancel := context.WithCancel(t.Context())
	go func() { <-began; cancel() }()
	if _, err := c.Do(ctx, Request{Name: "zero"}); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v, want %v", err, context.Canceled)
	}
	select {
	case <-ended:
	case <-time.After(patience):
		t.Error("the handler was not told")
	}
}

func TestAStopEndsWhatIsBeingAnswered(t *testing.T) {
	socket := socketPath(t)
	began := make(chan struct{})
	stop := serve(t, socket, map[string]Handler{"zero": func(ctx context.Context, _ Request) Answer {
		close(began)
		<-ctx.Done()
		return Refuse(CodeStopping, "the bridge stops")
	}})
	c := NewClient(socket)
	defer c.Close()
	answered := make(chan Answer, 1)
	go func() {
		a, _ := c.Do(context.Background(), Request{Name: "zero"})
		answered <- a
	}()
	<-began
	stop()
	if a := <-answered; a.Code != CodeStopping {
		t.Errorf("got %+v, want code %s", a, CodeStopping)
	}
	if _, err := os.Stat(socket); !os.IsNotExist(err) {
		t.Errorf("got %v, want the socket taken away", err)
	}
}

func TestASocketThatIsLeftIsReplacedAndOneInUseIsNot(t *testing.T) {
	socket := socketPath(t)
	l, err := net.ListenUnix("unix", &net.UnixAddr{Name: socket})
	if err != nil {
		t.Fatal(err)
	}
	l.SetUnlinkOnClose(false) // as when a program was killed
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	serve(t, socket, nil)
	second := NewServer(socket, slog.New(slog.DiscardHandler))
	if err := second.Open(); err == nil || !strings.Contains(err.Error(), "another program answers") {
		t.Errorf("got %v, want a refusal: the first answers", err)
	}
}

func TestAFileInTheWayIsNotRemoved(t *testing.T) {
	socket := socketPath(t)
	if err := os.WriteFile(socket, []byte("kept"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := NewServer(socket, slog.New(slog.DiscardHandler)).Open(); err == nil || !strings.Contains(err.Error(), "is no socket") {
		t.Errorf("got %v, want a refusal", err)
	}
	if text, err := os.ReadFile(socket); err != nil || string(text) != "kept" {
		t.Errorf("got %q and %v, want the file as it was", text, err)
	}
}

func TestNobodyToAsk(t *testing.T) {
	socket := socketPath(t)
	c := NewClient(socket)
	defer c.Close()
	_, err := c.Do(t.Context(), Request{Name: "view"})
	var u *Unreachable
	if !errors.As(err, &u) || !u.NotThere() || !strings.Contains(err.Error(), "no bridge is running") {
		t.Errorf("got %v, want that no bridge is running", err)
	}
	l, err := net.ListenUnix("unix", &net.UnixAddr{Name: socket})
	if err != nil {
		t.Fatal(err)
	}
	l.SetUnlinkOnClose(false)
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err = c.Do(t.Context(), Request{Name: "view"}); !errors.As(err, &u) || !u.NotThere() || !strings.Contains(err.Error(), "has ended") {
		t.Errorf("got %v, want that the bridge has ended", err)
	}
}
