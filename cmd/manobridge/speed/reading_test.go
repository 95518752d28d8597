package speed

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"manobridge/ingest/serialport"
)

// readPorts names the variable with the ports that this program reads, and does nothing else, when it is run again by
// BenchmarkFleetReading.
const readPorts = "MANOBRIDGE_BENCH_READ"

func TestMain(m *testing.M) {
	if ports := os.Getenv(readPorts); ports != "" {
		fmt.Fprintln(os.Stderr, readOnly(strings.Fields(ports)))
		os.Exit(1)
	}
	os.Exit(m.Run())
}

// readOnly reads the ports and throws away what comes, until one fails.
func readOnly(paths []string) error {
	failed := make(chan error)
	for _, path := range paths {
		port, err := serialport.Open(context.Background(), serialport.Settings{Device: path, Baud: 115200, DataBits: 8, Parity: "none", StopBits: 1})
		if err != nil {
			return err
		}
		go func() {
			for b := make([]byte, 512); ; {
				if _, err := port.Read(b); err != nil {
					failed <- err
				}
			}
		}()
	}
	return <-failed
}

// What the fleet costs a process that reads the 64 ports and does nothing else: the bound for what the bridge can.
func BenchmarkFleetReading(b *testing.B) {
	for b.Loop() {
		h := hall{ports: 64, instruments: 64}
		lines := h.plug(b)
		paths := make([]string, len(lines))
		for i, l := range lines {
			paths[i] = l.Path
		}
		d := &daemon{b, exec.Command(os.Args[0])}
		d.cmd.Env = append(os.Environ(), readPorts+"="+strings.Join(paths, " "))
		d.cmd.Stderr = os.Stderr
		if err := d.cmd.Start(); err != nil {
			b.Fatal(err)
		}
		var halt atomic.Bool
		var beating sync.WaitGroup
		beating.Go(func() { h.beat(b, lines, &halt) })
		<-time.After(2 * time.Second) // it has opened them
		before, began := d.cpu(), time.Now()
		<-time.After(20 * time.Second)
		used, over := d.cpu()-before, time.Since(began)
		now, _ := d.memory()
		_ = d.cmd.Process.Kill()
		_ = d.cmd.Wait()
		halt.Store(true)
		for _, l := range lines {
			l.Unplug()
		}
		beating.Wait()
		b.ReportMetric(now, "RSS-MB")
		b.ReportMetric(100*used.Seconds()/over.Seconds(), "%core")
	}
}
