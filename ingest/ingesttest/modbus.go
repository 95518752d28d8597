package ingesttest

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
)

// ModbusLine is a line with units on it that answer when asked: a slave by other authors behind a pair of
// pseudo-terminals.
type ModbusLine struct {
	Path string // what the program under test opens

	tb     testing.TB
	pair   *exec.Cmd
	slave  *exec.Cmd
	once   sync.Once
	stderr bytes.Buffer
}

// NewModbusLine starts a slave with the registers, each UNIT,TABLE,ADDRESS,TYPE,ORDER,VALUE with table hr or ir. script is
// the path of modbus_slave.py. Where socat or the slave's packages are missing, the test is skipped aloud, and fails if CI
// is true.
func NewModbusLine(tb testing.TB, script string, registers ...string) *ModbusLine {
	tb.Helper()
	const python = "/usr/bin/python3" // Debian's: its packages are not seen by another
	missing := ""
	if _, err := exec.LookPath("socat"); err != nil {
		missing = "socat"
	} else if err := exec.CommandContext(tb.Context(), python, "-c", "import pymodbus.server, serial_asyncio").Run(); err != nil {
		missing = "python3-pymodbus and python3-serial-asyncio"
	}
	if missing != "" && os.Getenv("CI") == "true" {
		tb.Fatalf("%s missing: install with apt-get", missing)
	} else if missing != "" {
		tb.Skipf("SKIPPED: %s missing, no Modbus slave to ask; install with apt-get", missing)
	}
	dir := tb.TempDir()
	l := &ModbusLine{Path: filepath.Join(dir, "ttyMASTER"), tb: tb}
	far := filepath.Join(dir, "ttySLAVE")
	l.pair = exec.Command("socat", "pty,raw,echo=0,link="+l.Path, "pty,raw,echo=0,link="+far)
	if err := l.pair.Start(); err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(l.Unplug)
	Eventually(tb, "the pair of terminals", func() bool {
		_, a := os.Stat(l.Path)
		_, b := os.Stat(far)
		return a == nil && b == nil
	})
	l.slave = exec.Command(python, append([]string{script, far}, registers...)...)
	l.slave.Stderr = &l.stderr
	if err := l.slave.Start(); err != nil {
		tb.Fatal(err)
	}
	return l
}

// Unplug takes the line away, and the slave with it.
func (l *ModbusLine) Unplug() {
	l.once.Do(func() {
		for _, c := range []*exec.Cmd{l.slave, l.pair} {
			if c == nil || c.Process == nil {
				continue
			}
			if err := c.Process.Kill(); err != nil {
				l.tb.Logf("%s ended by itself: %v", c.Path, err)
			}
			_ = c.Wait() // killed is how it is meant to end
		}
		if err := os.Remove(l.Path); err != nil && !os.IsNotExist(err) {
			l.tb.Error(err)
		}
		if l.tb.Failed() {
			l.tb.Logf("the slave said:\n%s", l.stderr.String())
		}
	})
}
