package ingest_test

import (
	"log/slog"
	"testing"

	"manobridge/convert"
	"manobridge/ingest"
	"manobridge/ingest/ingesttest"
)

func TestPorts(t *testing.T) {
	t.Run("serial library on a pseudo-terminal", func(t *testing.T) {
		ingesttest.PortContract(t, func(t *testing.T) (ingest.Opener, func(string)) {
			line := ingesttest.NewLine(t)
			return port(line.Path), line.Send
		})
	})
	t.Run("scripted port", func(t *testing.T) {
		ingesttest.PortContract(t, func(*testing.T) (ingest.Opener, func(string)) {
			p := ingesttest.NewPort()
			return p.Open, p.Send
		})
	})
}

func TestPlayedCapture(t *testing.T) {
	o := ingesttest.Options(t, ingesttest.Play(t, "../testdata/captures/noisy-line/input.raw", 7).Open, nil)
	r := ingesttest.Run(t, o)
	r.WantFrames("duct-2", "02,113.40,20.0", "frame-nul 02,1\x003.4,20.0", "frame-fields 02,113.41,20.002,113.42,20.0", "02,113.43,20.0")
	s := r.Source.Stats()
	if s.Unattributed[convert.FrameFields] != 1 || s.Unattributed[convert.FrameOverlong] != 1 || s.Good != 2 {
		t.Errorf("got %+v, want the noise and the overlong line counted", s)
	}
}

func BenchmarkSource(b *testing.B) {
	p := ingesttest.NewPort()
	src, err := ingest.New(ingesttest.Options(b, p.Open, slog.New(slog.DiscardHandler)))
	if err != nil {
		b.Fatal(err)
	}
	out := make(chan ingest.Item, 16)
	done := make(chan error, 1)
	go func() { done <- src.Run(b.Context(), out) }()
	b.Cleanup(func() { // b's context has ended by then
		if err := <-done; err != nil {
			b.Errorf("run: %v", err)
		}
	})
	p.Send("\n")
	<-out // opened
	b.ReportAllocs()
	for b.Loop() {
		p.Send("02,110.53,21.04\r\n")
		if it := <-out; it.Event != nil || it.Reading.Refusal != nil {
			b.Fatalf("got %+v", it)
		}
	}
}
