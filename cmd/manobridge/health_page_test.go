package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"manobridge/publish/publishtest"
)

// health asks a bridge that listens how it is: one that runs and is well, one that is stopped in its tracks, one that ended.
func TestHealthAsksTheBridge(t *testing.T) {
	config := writeConfig(t, filepath.Join(t.TempDir(), "ttyNONE0"), filepath.Join(t.TempDir(), "manobridge.db"),
		fmt.Sprintf("operate: {listen: %q}", publishtest.FreeAddr(t)))
	health := func() (status int, said string) {
		var out bytes.Buffer
		status = executeContext(t.Context(), []string{"health", "-c", config}, streams{strings.NewReader(""), &out, &out})
		return status, out.String()
	}
	d := launch(t, program(t), config)
	d.says("bridge-started")
	publishtest.Eventually(t, "the bridge to be well", func() bool { status, _ := health(); return status == exitDone })
	if _, said := health(); !strings.Contains(said, "readings") {
		t.Errorf("got %q, want the bridge's own word", said)
	}
	d.signal(syscall.SIGSTOP)
	publishtest.Eventually(t, "a bridge that stands still to be found out", func() bool {
		status, said := health()
		return status == exitNo && strings.Contains(said, "does not answer")
	})
	d.signal(syscall.SIGCONT)
	d.signal(os.Interrupt)
	d.status()
	if status, said := health(); status != exitNo || !strings.Contains(said, "no bridge is running") {
		t.Errorf("got status %d and %q after its end, want %d", status, said, exitNo)
	}
}
