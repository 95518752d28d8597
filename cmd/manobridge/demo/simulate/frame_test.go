package simulate

import (
	"bytes"
	"strconv"
	"strings"
	"testing"
)

// wellFormed tells, as plainly as can be, whether a line is a frame of the port: the right number of fields, an address
// some instrument has, and numbers after it.
func wellFormed(line string, fields int, addresses map[string]string) (instrument string, ok bool) {
	parts := strings.Split(line, ",")
	if len(parts) != fields || addresses[parts[0]] == "" {
		return "", false
	}
	for _, p := range parts[1:] {
		if _, err := strconv.ParseFloat(p, 64); err != nil {
			return "", false
		}
	}
	return addresses[parts[0]], true
}

// TestLineAddsUp reads everything one line sends with nothing but string functions, and finds what the fates promise:
// every due reading, no other, in order, and one refused line for every frame that was spoilt or run into.
func TestLineAddsUp(t *testing.T) {
	h := build(t, TestHall(), 21)
	for _, port := range h.Declared.Ports {
		addresses := map[string]string{}
		for _, in := range h.Declared.Instruments {
			if in.Port == port.Name {
				addresses[in.Address] = in.Name
			}
		}
		fields := 3
		if port.BothLimbs {
			fields = 4
		}
		line := h.Line(port.Name, 0.3)
		var wire bytes.Buffer
		var due []string
		fateCount := map[Fate]int{}
		last := Frame{}
		for range 6000 {
			f := line.Next()
			if f.At < last.At {
				t.Fatalf("%s: time fell from %v to %v", port.Name, last.At, f.At)
			}
			if open := last.Fate == Truncated || last.Fate == Noise; open != (f.Fate == Swallowed) {
				t.Fatalf("%s: %v follows %v", port.Name, f.Fate, last.Fate)
			}
			wire.Write(f.Bytes)
			fateCount[f.Fate]++
			for range f.Fate.Readings() {
				due = append(due, f.Text)
			}
			last = f
		}
		for f := Good; f < fates; f++ {
			if fateCount[f] < 50 {
				t.Errorf("%s: got %d frames %q of 6000, want at least 50", port.Name, fateCount[f], f)
			}
		}
		spoilt := 6000 - fateCount[Good] - fateCount[Swallowed]
		if share := float64(spoilt) / float64(6000-fateCount[Swallowed]); share < 0.27 || share > 0.33 {
			t.Errorf("%s: %.3f of the frames spoilt, want 0.30 ± 0.03", port.Name, share)
		}

		var got []string
		refused := 0
		lines := strings.Split(wire.String(), "\r\n")
		for _, l := range lines[:len(lines)-1] {
			if _, ok := wellFormed(l, fields, addresses); ok {
				got = append(got, l)
			} else {
				refused++
			}
		}
		if len(got) != len(due) {
			t.Errorf("%s: read %d frames, want %d", port.Name, len(got), len(due))
		}
		for i := range min(len(got), len(due)) {
			if got[i] != due[i] {
				t.Fatalf("%s: frame %d reads %q, want %q", port.Name, i, got[i], due[i])
			}
		}
		want := fateCount[NotANumber] + fateCount[FieldMissing] + fateCount[NULByte] + fateCount[Swallowed]
		if refused != want {
			t.Errorf("%s: %d lines refused, want %d", port.Name, refused, want)
		}
	}
}

func TestEveryInstrumentOncePerScan(t *testing.T) {
	h := build(t, TestHall(), 2)
	for _, port := range h.Declared.Ports {
		count := map[string]int{}
		n := 0
		for _, in := range h.Declared.Instruments {
			if in.Port == port.Name {
				n++
			}
		}
		line := h.Line(port.Name, 0)
		for range 10 * n {
			f := line.Next()
			if f.At >= 10*port.Period {
				t.Errorf("%s: frame of scan 10 at %v, want before %v", port.Name, f.At, 10*port.Period)
			}
			count[f.Instrument]++
		}
		for name, c := range count {
			if c != 10 {
				t.Errorf("%s reports %d times in 10 scans", name, c)
			}
		}
		if len(count) != n {
			t.Errorf("%s: %d instruments report, want %d", port.Name, len(count), n)
		}
	}
	if h.Line("no-such-port", 0) != nil {
		t.Error("got a line for a port that does not exist, want nil")
	}
}

// TestLineSpeed: what a port sends must fit through its declared rate, 10 bits to a character (8 data bits, start and
// stop).
func TestLineSpeed(t *testing.T) {
	h := build(t, TestHall(), 2)
	for _, port := range h.Declared.Ports {
		line := h.Line(port.Name, 0)
		bits := 0
		f := line.Next()
		for ; f.At < 20*port.Period; f = line.Next() {
			bits += 10 * len(f.Bytes)
		}
		if rate := float64(bits) / (20 * port.Period).Seconds(); rate > 0.8*float64(port.Baud) {
			t.Errorf("%s: %.0f bit/s through %d baud, want at most 80 %%", port.Name, rate, port.Baud)
		}
	}
}
