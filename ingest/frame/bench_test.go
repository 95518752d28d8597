package frame_test

import (
	"testing"

	"manobridge/ingest/frame"
)

func BenchmarkDelimited(b *testing.B) {
	d := decoder(b, bench)
	line := []byte("02,110.53,21.04\r\n")
	var f frame.Frame
	b.ReportAllocs()
	b.SetBytes(int64(len(line)))
	for b.Loop() {
		d.Feed(line, frame.Stamp{})
		for d.Next(&f) {
			if f.Refusal != nil {
				b.Fatal(f.Refusal)
			}
		}
	}
}

// A good frame costs no memory: a bridge that runs for a year leaves nothing for the collector.
func TestGoodFrameAllocatesNothing(t *testing.T) {
	d := decoder(t, bench)
	line := []byte("02,110.53,21.04\r\n")
	var f frame.Frame
	if n := testing.AllocsPerRun(1000, func() {
		d.Feed(line[:9], frame.Stamp{})
		for d.Next(&f) {
		}
		d.Feed(line[9:], frame.Stamp{})
		for d.Next(&f) {
		}
	}); n != 0 {
		t.Errorf("got %v allocations per frame, want 0", n)
	}
}
