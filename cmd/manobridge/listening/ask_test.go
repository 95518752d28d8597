package listening_test

import (
	"context"
	"log/slog"
	"strings"
	"testing"
	"time"

	"manobridge/cmd/manobridge/listening"
	"manobridge/ingest"
	"manobridge/ingest/ingesttest"
	"manobridge/ingest/modbus"
	"manobridge/ingest/serialport"
)

// Where instruments are asked, listening asks: each answer is shown, and each that stays out. The answer holds 12.5 as
// 41480000 (IEEE 754) with its check value by Modbus over Serial Line V1.02, 6.2.2.
func TestAskedInstrumentsAreShown(t *testing.T) {
	line := ingesttest.NewLine(t)
	settings := serialport.Settings{Device: line.Path, Baud: 19200, DataBits: 8, Parity: "none", StopBits: 1, ReadTimeout: time.Second}
	p, err := ingest.NewPoll(ingest.PollOptions{
		Open: settings.Opener(), Timeout: time.Second, Character: time.Millisecond, Clock: ingest.SystemClock(time.Now()), Log: slog.New(slog.DiscardHandler),
		Instruments: []ingest.Asked{{Address: "2", Unit: 2, Every: 50 * time.Millisecond, Registers: map[string]modbus.Register{
			"low_mm": {Function: modbus.ReadHolding, Type: "float32", Order: "ABCD", Scale: 1}}}},
	})
	if err != nil {
		t.Fatal(err)
	}
	var out page
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	ended := make(chan error, 1)
	go func() {
		ended <- listening.Run(ctx, listening.Options{Open: p.Open, Decoder: p.Decoder(), Device: line.Path, Out: &out})
	}()
	for i := range 3 {
		line.Received(8)
		if i > 0 { // the first stays out, the second may be a late one
			line.Send("\x02\x03\x04\x41\x48\x00\x00\x5d\x19")
		}
	}
	const want = `address "2", low_mm 12.5`
	ingesttest.Eventually(t, "the answer", func() bool { return strings.Contains(out.String(), want) })
	cancel()
	if err := <-ended; err != nil {
		t.Errorf("got %v, want a quiet end", err)
	}
	if !strings.Contains(out.String(), `address "2": no answer in time`) {
		t.Errorf("got\n%s\nwant the answer that stayed out told of", out.String())
	}
}
