package publishtest

import (
	"bytes"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// Patience bounds every wait of the fixtures. It is far beyond what a slow machine needs, so that only a true hang
// meets it.
const Patience = 30 * time.Second

// Binary finds a program in PATH or among what `go install` built. Where it is missing the test is skipped and says
// so; where CI=true is set it fails.
func Binary(t testing.TB, name string) string {
	t.Helper()
	if path, err := exec.LookPath(name); err == nil {
		return path
	}
	if out, err := exec.Command("go", "env", "GOPATH").Output(); err == nil {
		for _, dir := range filepath.SplitList(strings.TrimSpace(string(out))) {
			if path, err := exec.LookPath(filepath.Join(dir, "bin", name)); err == nil {
				return path
			}
		}
	}
	if os.Getenv("CI") == "true" {
		t.Fatalf("%s is not installed; where CI=true is set no test against a real server may be left out", name)
	}
	t.Skipf("NOT TESTED: %s is not installed, so nothing was tried against the real server", name)
	return ""
}

// Server is a real server on a loopback port of its own. It is stopped when the test ends.
type Server struct {
	Addr string // host and port
	Dir  string // its data; kept over Stop and Start

	t     testing.TB
	name  string
	path  string
	args  []string
	ready func() error

	cmd  *exec.Cmd
	gone chan struct{} // closed when cmd has ended
	log  lockedBuffer
}

func newServer(t testing.TB, name string) *Server {
	t.Helper()
	s := &Server{t: t, name: name, path: Binary(t, name), Dir: t.TempDir(), Addr: FreeAddr(t)}
	s.ready = s.takesConnections
	t.Cleanup(func() {
		s.Kill()
		if t.Failed() {
			t.Logf("%s said:\n%s", name, s.log.tail(4000))
		}
	})
	return s
}

func (s *Server) takesConnections() error {
	c, err := net.DialTimeout("tcp", s.Addr, time.Second)
	if err == nil {
		err = c.Close()
	}
	return err
}

// Start starts the server on its port, with what it kept of before, and waits until it answers.
func (s *Server) Start() {
	s.t.Helper()
	if s.cmd != nil {
		s.t.Fatalf("%s runs already", s.name)
	}
	s.cmd = exec.Command(s.path, s.args...)
	s.cmd.Stdout, s.cmd.Stderr = &s.log, &s.log
	if err := s.cmd.Start(); err != nil {
		s.cmd = nil
		s.t.Fatalf("start %s: %v", s.name, err)
	}
	gone, cmd := make(chan struct{}), s.cmd
	s.gone = gone
	go func() {
		_ = cmd.Wait() // the way it ended is in its log
		close(gone)
	}()
	var last error
	Eventually(s.t, s.name+" answers on "+s.Addr, func() bool {
		select {
		case <-gone:
			s.t.Fatalf("%s ended at its start:\n%s", s.name, s.log.tail(4000))
		default:
		}
		last = s.ready()
		return last == nil
	})
}

// Stop asks the server to end and waits until it has: an outage with notice. It saves what it keeps.
func (s *Server) Stop() { s.end(syscall.SIGTERM) }

// Kill ends the server at once: an outage without notice.
func (s *Server) Kill() { s.end(syscall.SIGKILL) }

func (s *Server) end(signal os.Signal) {
	s.t.Helper()
	if s.cmd == nil {
		return
	}
	if err := s.cmd.Process.Signal(signal); err != nil && !errors.Is(err, os.ErrProcessDone) {
		s.t.Errorf("end %s: %v", s.name, err)
	}
	select {
	case <-s.gone:
	case <-time.After(Patience):
		s.t.Errorf("%s did not end within %v; killed", s.name, Patience)
		_ = s.cmd.Process.Kill()
		<-s.gone
	}
	s.cmd = nil
}

// Log gives what the server has said so far.
func (s *Server) Log() string { return s.log.tail(1 << 20) }

// URL is the address of a server that speaks HTTP.
func (s *Server) URL() string { return "http://" + s.Addr }

// answers is a check that the path is answered with a 2xx.
func (s *Server) answers(path string) func() error {
	return func() error {
		_, err := fetch(http.MethodGet, s.URL()+path)
		return err
	}
}

// FreeAddr gives a loopback address nobody listens on now.
func FreeAddr(t testing.TB) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatalf("find a free port: %v", err)
	}
	defer func() { _ = l.Close() }()
	return l.Addr().String()
}

// Mosquitto starts a broker that lets everybody in and keeps every queue and retained message over Stop and Start.
// Further lines go to the end of its configuration; allow_anonymous may be given there.
func Mosquitto(t testing.TB, lines ...string) *Server {
	t.Helper()
	s := newServer(t, "mosquitto")
	_, port, _ := net.SplitHostPort(s.Addr)
	conf := []string{
		"listener " + port + " 127.0.0.1",
		"persistence true", "persistence_location " + s.Dir + "/",
		"max_queued_messages 0", // without bound: nothing may be lost on the way to the test's subscriber
		"log_dest stderr",
	}
	if os.Geteuid() == 0 {
		conf = append(conf, "user root") // else it changes to a user who cannot write the directory
	}
	if !strings.Contains(strings.Join(lines, "\n"), "allow_anonymous") {
		conf = append(conf, "allow_anonymous true")
	}
	file := filepath.Join(s.Dir, "mosquitto.conf")
	if err := os.WriteFile(file, []byte(strings.Join(append(conf, lines...), "\n")+"\n"), 0o600); err != nil {
		t.Fatalf("write the broker's configuration: %v", err)
	}
	s.args = []string{"-c", file}
	s.Start()
	return s
}

// VictoriaMetrics starts a store that keeps samples of any age: the default of one month drops older ones without a
// word.
func VictoriaMetrics(t testing.TB, args ...string) *Server {
	t.Helper()
	s := newServer(t, "victoria-metrics")
	s.args = append([]string{"-httpListenAddr=" + s.Addr, "-storageDataPath=" + s.Dir, "-retentionPeriod=100y",
		"-memory.allowedBytes=64MB"}, args...)
	s.ready = s.answers("/health")
	s.Start()
	return s
}

// InfluxDB starts an InfluxDB 1.8 with an empty database of that name. A bucket of the v2 write API is a database
// there.
func InfluxDB(t testing.TB, database string) *Server {
	t.Helper()
	s := newServer(t, "influxd")
	conf := fmt.Sprintf(`reporting-disabled = true
bind-address = %q
[meta]
dir = %q
[data]
dir = %q
wal-dir = %q
[http]
bind-address = %q
log-enabled = false
[logging]
level = "warn"
suppress-logo = true
`, FreeAddr(t), s.Dir+"/meta", s.Dir+"/data", s.Dir+"/wal", s.Addr)
	file := filepath.Join(s.Dir, "influxdb.conf")
	if err := os.WriteFile(file, []byte(conf), 0o600); err != nil {
		t.Fatalf("write the store's configuration: %v", err)
	}
	s.args = []string{"-config", file}
	s.ready = s.answers("/ping")
	s.Start()
	influxQuery(t, s.URL(), "", `CREATE DATABASE "`+database+`"`)
	return s
}

// Eventually waits until cond holds and fails the test when Patience is over first.
func Eventually(t testing.TB, what string, cond func() bool) {
	t.Helper()
	limit := time.NewTimer(Patience)
	defer limit.Stop()
	tick := time.NewTicker(10 * time.Millisecond)
	defer tick.Stop()
	for !cond() {
		select {
		case <-tick.C:
		case <-limit.C:
			t.Fatalf("got no sign within %v, want: %s", Patience, what)
		}
	}
}

// lockedBuffer collects what a process says.
type lockedBuffer struct {
	mu  sync.Mutex
	buf bytes.Buffer
}

func (b *lockedBuffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.buf.Write(p)
}

func (b *lockedBuffer) tail(n int) string {
	b.mu.Lock()
	defer b.mu.Unlock()
	s := b.buf.String()
	return s[max(0, len(s)-n):]
}
