package ingest_test

import (
	"context"
	"io"
	"log/slog"
	"testing"
	"testing/synctest"
	"time"

	"manobridge/ingest"
	"manobridge/ingest/frame"
)

// deaf is a port whose Read gives nothing until it is closed or, every so often, says that nothing came.
type deaf struct {
	every  time.Duration // 0: never
	closed chan struct{}
}

type nothing struct{ error }

func (nothing) Timeout() bool { return true }

func (d *deaf) Read([]byte) (int, error) {
	var after <-chan time.Time
	if d.every > 0 {
		after = time.After(d.every)
	}
	select {
	case <-after:
		return 0, nothing{io.ErrNoProgress}
	case <-d.closed:
		return 0, io.ErrClosedPipe
	}
}

func (d *deaf) Close() error { close(d.closed); return nil }

// A silent line and a port that is not there are alive; a driver that does not come back is not.
func TestStuckPort(t *testing.T) {
	for _, c := range []struct {
		name string
		open ingest.Opener
		want bool
	}{
		{"silent", func(context.Context) (io.ReadCloser, error) { return &deaf{10 * time.Second, make(chan struct{})}, nil }, false},
		{"gone", func(context.Context) (io.ReadCloser, error) { return nil, io.ErrClosedPipe }, false},
		{"read hangs", func(context.Context) (io.ReadCloser, error) { return &deaf{0, make(chan struct{})}, nil }, true},
		{"open hangs", func(ctx context.Context) (io.ReadCloser, error) { <-ctx.Done(); return nil, ctx.Err() }, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				decoder, err := frame.New(frame.Options{Format: "delimited", Separator: ",", Fields: []string{"low_mm"}, Decimal: ".", Terminator: "any"})
				if err != nil {
					t.Fatal(err)
				}
				s, err := ingest.New(ingest.Options{Run: "r", Port: "rack-a", Open: c.open, Decoder: decoder, Instruments: map[string]string{"": "a"},
					Silence: time.Second, RetryMax: time.Minute, Clock: ingest.SystemClock(time.Now()), Log: slog.New(slog.DiscardHandler)})
				if err != nil {
					t.Fatal(err)
				}
				s.WatchReads(10 * time.Second)
				ctx, stop := context.WithCancel(t.Context())
				items, ended := make(chan ingest.Item, 1000), make(chan error, 1)
				go func() { ended <- s.Run(ctx, items) }()
				stuck := false
				for range 600 {
					time.Sleep(time.Second)
					stuck = stuck || s.Stuck()
				}
				if stuck != c.want {
					t.Errorf("got stuck %v in 10 min, want %v", stuck, c.want)
				}
				stop()
				if err := <-ended; err != nil || s.Stuck() {
					t.Errorf("got %v and stuck %v after the end, want neither", err, s.Stuck())
				}
			})
		})
	}
}
