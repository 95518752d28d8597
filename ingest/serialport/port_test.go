package serialport_test

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"go.uber.org/goleak"

	"manobridge/ingest/ingesttest"
	"manobridge/ingest/serialport"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// settings for a pseudo-terminal, which has no parity.
func settings(device string) serialport.Settings {
	return serialport.Settings{Device: device, Baud: 9600, DataBits: 8, Parity: "none", StopBits: 1}
}

func open(t *testing.T, s serialport.Settings) *serialport.Port {
	t.Helper()
	p, err := serialport.Open(t.Context(), s)
	if err != nil {
		t.Fatalf("open: %v", err)
	}
	t.Cleanup(func() {
		if err := p.Close(); err != nil {
			t.Errorf("close: %v", err)
		}
	})
	return p
}

func readString(t *testing.T, p *serialport.Port, n int) string {
	t.Helper()
	var got []byte
	for len(got) < n {
		buf := make([]byte, n-len(got))
		k, err := p.Read(buf)
		if err != nil {
			t.Fatalf("read after %q: %v", got, err)
		}
		if k == 0 {
			t.Fatal("read returned no byte and no error")
		}
		got = append(got, buf[:k]...)
	}
	return string(got)
}

func TestReadAndWrite(t *testing.T) {
	line := ingesttest.NewLine(t)
	p := open(t, settings(line.Path))
	line.Send("02,110.5,21.0\r\n")
	if got, want := readString(t, p, 15), "02,110.5,21.0\r\n"; got != want {
		t.Errorf("read: got %q, want %q", got, want)
	}
	if n, err := p.Write([]byte("?02\r")); n != 4 || err != nil {
		t.Errorf("write: got %d, %v, want 4 and no error", n, err)
	}
	if got, want := line.Received(4), "?02\r"; got != want {
		t.Errorf("the instrument received %q, want %q", got, want)
	}
}

func TestOpenDropsWhatCameBefore(t *testing.T) {
	line := ingesttest.NewLine(t)
	line.Send("99,999.9,99.9\r\n")
	p := open(t, settings(line.Path))
	line.Send("new")
	if got := readString(t, p, 3); got != "new" {
		t.Errorf("got %q, want %q: bytes from before the opening", got, "new")
	}
}

func TestSilenceIsAnError(t *testing.T) {
	line := ingesttest.NewLine(t)
	s := settings(line.Path)
	s.ReadTimeout = 200 * time.Millisecond
	p := open(t, s)
	n, err := p.Read(make([]byte, 8))
	if n != 0 || !errors.Is(err, serialport.ErrTimeout) {
		t.Fatalf("got %d, %v, want 0 and a timeout", n, err)
	}
	var timeout interface{ Timeout() bool }
	if !errors.As(err, &timeout) || !timeout.Timeout() {
		t.Errorf("%v does not say that it is a timeout", err)
	}
}

func TestCloseEndsRead(t *testing.T) {
	line := ingesttest.NewLine(t)
	p := open(t, settings(line.Path))
	started, done := make(chan struct{}), make(chan error)
	go func() {
		close(started)
		_, err := p.Read(make([]byte, 8))
		done <- err
	}()
	<-started
	if err := p.Close(); err != nil {
		t.Errorf("close: %v", err)
	}
	if err := <-done; !errors.Is(err, serialport.ErrClosed) {
		t.Errorf("read: got %v, want %v", err, serialport.ErrClosed)
	}
	if err := p.Close(); err != nil {
		t.Errorf("second close: got %v, want none", err)
	}
}

// The library writes into whatever file has got the descriptor's number after Close.
func TestNoWriteAfterClose(t *testing.T) {
	line := ingesttest.NewLine(t)
	p := open(t, settings(line.Path))
	if err := p.Close(); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "other")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if n, err := p.Write([]byte("OOPS")); n != 0 || !errors.Is(err, serialport.ErrClosed) {
		t.Errorf("write: got %d, %v, want 0 and %v", n, err, serialport.ErrClosed)
	}
	if err := p.ResetInputBuffer(); !errors.Is(err, serialport.ErrClosed) {
		t.Errorf("reset: got %v, want %v", err, serialport.ErrClosed)
	}
	if b, err := os.ReadFile(path); err != nil || len(b) != 0 {
		t.Errorf("the other file holds %q (%v), want nothing", b, err)
	}
}

func TestUnplugIsToldApartFromClose(t *testing.T) {
	line := ingesttest.NewLine(t)
	p := open(t, settings(line.Path))
	line.Unplug()
	_, err := p.Read(make([]byte, 8))
	if !errors.Is(err, serialport.ErrGone) {
		t.Errorf("read: got %v, want %v", err, serialport.ErrGone)
	}
	if _, err := p.Write([]byte("x")); !errors.Is(err, serialport.ErrGone) {
		t.Errorf("write: got %v, want %v", err, serialport.ErrGone)
	}
}

func TestSecondOpenIsRefusedByName(t *testing.T) {
	line := ingesttest.NewLine(t)
	open(t, settings(line.Path))
	_, err := serialport.Open(t.Context(), settings(line.Path))
	if !errors.Is(err, serialport.ErrInUse) || !strings.Contains(err.Error(), "this program itself") {
		t.Errorf("got %v, want %v and who has it", err, serialport.ErrInUse)
	}
}

func TestWriteThatNobodyTakesEnds(t *testing.T) {
	line := ingesttest.NewLine(t)
	s := settings(line.Path)
	s.WriteTimeout = 50 * time.Millisecond
	p := open(t, s)
	n, err := p.Write(make([]byte, 1<<20)) // more than a terminal holds
	if !errors.Is(err, serialport.ErrTimeout) || n >= 1<<20 {
		t.Errorf("got %d bytes, %v, want some of them and %v", n, err, serialport.ErrTimeout)
	}
}

func TestOpenFailuresAreTyped(t *testing.T) {
	dir := t.TempDir()
	plain := filepath.Join(dir, "notes.txt")
	if err := os.WriteFile(plain, []byte("x"), 0o600); err != nil {
		t.Fatal(err)
	}
	line := ingesttest.NewLine(t)
	zero := settings(line.Path)
	zero.Baud = 0
	for _, tt := range []struct {
		name string
		s    serialport.Settings
		want serialport.Kind
		says string
	}{
		{"missing", settings(filepath.Join(dir, "ttyUSB7")), serialport.ErrMissing, "plugged in"},
		{"not a terminal", settings(plain), serialport.ErrNotATTY, "device path"},
		{"rate left out", zero, serialport.ErrSettings, "baud: 0 bit/s"},
		{"two ways", serialport.Settings{Device: "/dev/x", USB: serialport.USB{Vendor: "0403"}, Baud: 9600, DataBits: 8, Parity: "none", StopBits: 1},
			serialport.ErrSettings, "both given"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			p, err := serialport.Open(t.Context(), tt.s)
			if p != nil || !errors.Is(err, tt.want) || !strings.Contains(err.Error(), tt.says) {
				t.Errorf("got %v, want %v saying %q", err, tt.want, tt.says)
			}
		})
	}
}

func TestPermissionDenied(t *testing.T) {
	if os.Getuid() == 0 {
		t.Skip("SKIPPED: an administrator may open everything; run as a user")
	}
	line := ingesttest.NewLine(t)
	if err := os.Chmod(line.Path, 0); err != nil {
		t.Fatal(err)
	}
	if _, err := serialport.Open(t.Context(), settings(line.Path)); !errors.Is(err, serialport.ErrPermission) {
		t.Errorf("got %v, want %v", err, serialport.ErrPermission)
	}
}

func TestOpenerGivesNoHalfPort(t *testing.T) {
	rc, err := settings(filepath.Join(t.TempDir(), "none")).Opener()(t.Context())
	if rc != nil || err == nil {
		t.Errorf("got %v, %v, want nil and an error", rc, err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := settings("/dev/null").Opener()(ctx); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v, want %v", err, context.Canceled)
	}
}

// The library's select panics on a descriptor of 1024 or more (POSIX: FD_SETSIZE).
func TestDescriptorTooLargeIsAnError(t *testing.T) {
	line := ingesttest.NewLine(t)
	null, err := os.Open(os.DevNull)
	if err != nil {
		t.Fatal(err)
	}
	defer null.Close()
	var fds []int
	defer func() {
		for _, fd := range fds {
			_ = syscall.Close(fd) // ours, and nothing was written
		}
	}()
	for {
		fd, err := syscall.Dup(int(null.Fd()))
		if err != nil {
			if os.Getenv("CI") == "true" {
				t.Fatalf("the limit of open files is too low: %v", err)
			}
			t.Skipf("SKIPPED: the limit of open files is too low: %v", err)
		}
		fds = append(fds, fd)
		if fd >= 1024 {
			break
		}
	}
	_, err = serialport.Open(t.Context(), settings(line.Path))
	if err == nil || !strings.Contains(err.Error(), "too many files are open") {
		t.Errorf("got %v, want an error about too many open files", err)
	}
}
