package operate

import (
	"log/slog"
	"net"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// A service manager of Type=notify-reload waits for RELOADING=1 with the monotonic time in µs, then for READY=1. Source:
// sd_notify(3), systemd.service(5).
func TestReloadIsTold(t *testing.T) {
	path := filepath.Join(t.TempDir(), "notify")
	conn, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: path, Net: "unixgram"})
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	t.Setenv("NOTIFY_SOCKET", path)
	var p pipeline
	s := NewService(&p, slog.New(slog.DiscardHandler))
	s.Reloading()
	s.Reloaded()
	var got []string
	for range 2 {
		buf := make([]byte, 512)
		if err := conn.SetReadDeadline(time.Now().Add(10 * time.Second)); err != nil {
			t.Fatal(err)
		}
		n, err := conn.Read(buf)
		if err != nil {
			t.Fatal(err)
		}
		got = append(got, strings.TrimSpace(string(buf[:n])))
	}
	when, ok := strings.CutPrefix(got[0], "RELOADING=1\nMONOTONIC_USEC=")
	if us, err := strconv.ParseInt(when, 10, 64); !ok || err != nil || us <= 0 {
		t.Errorf("got %q first, want RELOADING=1 with MONOTONIC_USEC", got[0])
	}
	if got[1] != "READY=1" {
		t.Errorf("got %q then, want READY=1", got[1])
	}
}
