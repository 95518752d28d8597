package operate

import (
	"log/slog"
	"net"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"
)

type pipeline struct{ alive atomic.Bool }

func (p *pipeline) Alive(time.Duration) bool { return p.alive.Load() }
func (p *pipeline) Status() string           { return "3 instruments, nothing waiting" }

// A service manager is a datagram socket that NOTIFY_SOCKET names. Source: sd_notify(3), sd_watchdog_enabled(3).
func TestServiceFeedsTheWatchdogOnlyWhenAlive(t *testing.T) {
	path := filepath.Join(t.TempDir(), "notify")
	conn, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: path, Net: "unixgram"})
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	t.Setenv("NOTIFY_SOCKET", path)
	t.Setenv("WATCHDOG_USEC", strconv.Itoa(60_000))
	t.Setenv("WATCHDOG_PID", "")
	next := func() string {
		t.Helper()
		buf := make([]byte, 512)
		if err := conn.SetReadDeadline(time.Now().Add(10 * time.Second)); err != nil {
			t.Fatal(err)
		}
		n, err := conn.Read(buf)
		if err != nil {
			t.Fatal(err)
		}
		return string(buf[:n])
	}
	var p pipeline
	p.alive.Store(true)
	s := NewService(&p, slog.New(slog.DiscardHandler))
	s.Start()
	if got := next(); got != "READY=1" {
		t.Errorf("got %q first, want READY=1", got)
	}
	if got := next(); !strings.Contains(got, "WATCHDOG=1") || !strings.Contains(got, "STATUS=3 instruments") {
		t.Errorf("got %q of a live pipeline, want its status and WATCHDOG=1", got)
	}
	p.alive.Store(false)
	next() // may have been decided before
	if got := next(); strings.Contains(got, "WATCHDOG=1") {
		t.Errorf("got %q of a dead pipeline, want no WATCHDOG=1", got)
	}
	s.Stop()
	for got := next(); got != "STOPPING=1"; got = next() {
		if strings.Contains(got, "WATCHDOG=1") {
			t.Errorf("got %q of a dead pipeline", got)
		}
	}
}
