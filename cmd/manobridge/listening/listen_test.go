package listening_test

import (
	"bytes"
	"context"
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"manobridge/cmd/manobridge/listening"
	"manobridge/ingest/frame"
	"manobridge/ingest/ingesttest"
	"manobridge/ingest/serialport"
)

// page is an output that can be read while it is written.
type page struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (p *page) Write(b []byte) (int, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.b.Write(b)
}

func (p *page) String() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.b.String()
}

// listen sends text until the page shows what is wanted, ends the listening and gives the page and the recording.
func listen(t *testing.T, d frame.Decoder, wanted string, text func(i int) string) (shown, recorded string) {
	t.Helper()
	line := ingesttest.NewLine(t)
	settings := serialport.Settings{Device: line.Path, Baud: 9600, DataBits: 8, Parity: "none", StopBits: 1}
	var out, record page
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	ended := make(chan error, 1)
	go func() {
		ended <- listening.Run(ctx, listening.Options{Open: settings.Opener(), Decoder: d, Device: line.Path, Baud: 9600, Out: &out, Record: &record})
	}()
	tick := time.NewTicker(20 * time.Millisecond) // opening throws away what was sent before
	defer tick.Stop()
	deadline := time.After(20 * time.Second)
	for i := 0; !strings.Contains(out.String(), wanted); i++ {
		select {
		case <-tick.C:
			line.Send(text(i))
		case err := <-ended:
			t.Fatalf("got the end (%v), want it to listen; shown so far:\n%s", err, out.String())
		case <-deadline:
			t.Fatalf("got\n%s\nwant %q within 20 s", out.String(), wanted)
		}
	}
	cancel()
	if err := <-ended; err != nil {
		t.Fatalf("got %v, want a quiet end", err)
	}
	return out.String(), record.String()
}

func TestDecodedBesideRaw(t *testing.T) {
	d, err := frame.New(frame.Options{Format: "delimited", Separator: ",", Fields: []string{"address", "low_mm"}})
	if err != nil {
		t.Fatal(err)
	}
	shown, recorded := listen(t, d, "refused, frame-number", func(i int) string { return []string{"02,75.25\r\n", "02,7S.25\r\n"}[i/5%2] })
	if want := `"02,75.25"  address "02", low_mm 75.25`; !strings.Contains(shown, want) {
		t.Errorf("got\n%s\nwant %s", shown, want)
	}
	if want := `02,75.25\r\n`; !strings.Contains(recorded, want) {
		t.Errorf("got recorded\n%s\nwant %s", recorded, want)
	}
}

// The check value is the exclusive or of what stands before the star, by its definition.
func TestGuess(t *testing.T) {
	shown, _ := listen(t, nil, "Names of fields", func(i int) string {
		s, sum := fmt.Sprintf("02;%d,25;21,4", 70+i%20), byte(0)
		for _, v := range []byte(s) {
			sum ^= v
		}
		return fmt.Sprintf("%s*%02X\r\n", s, sum)
	})
	for _, want := range []string{`separator: ";"`, `decimal: ","`, "fields: [skip, skip, skip]", `checksum: {name: xor-8, marker: "*"}`} {
		if !strings.Contains(shown, want) {
			t.Errorf("got\n%s\nwant %s", shown, want)
		}
	}
}
