package frame_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"manobridge/convert"
	"manobridge/ingest/frame"
	"manobridge/ingest/recording"
)

const captures = "../../testdata/captures"

// captureOptions is frame.json of a capture.
type captureOptions struct {
	Format     string   `json:"format"`
	Separator  string   `json:"separator"`
	Fields     []string `json:"fields"`
	Decimal    string   `json:"decimal"`
	ErrorWords []string `json:"error_words"`
}

// want is one line of want.jsonl, written by hand from NOTE.md.
type want struct {
	Code    convert.Cause `json:"code"`
	Address string        `json:"address"` // "*": whatever noise reads as
	Values  map[string]float64
}

func (w *want) UnmarshalJSON(b []byte) error {
	type plain want
	if err := json.Unmarshal(b, (*plain)(w)); err != nil {
		return err
	}
	var all map[string]any
	if err := json.Unmarshal(b, &all); err != nil {
		return err
	}
	w.Values = make(map[string]float64)
	for k, v := range all {
		if f, ok := v.(float64); ok {
			w.Values[k] = f
		}
	}
	return nil
}

// values gives what a frame reported, by the name of the field.
func values(f frame.Frame) map[string]float64 {
	m := make(map[string]float64)
	put := func(name string, v float64, set bool) {
		if set {
			m[name] = v
		}
	}
	put("low_mm", f.Low.V.Millimetres(), f.Low.Set)
	put("high_mm", f.High.V.Millimetres(), f.High.Set)
	put("reading", f.Indicated.V, f.Indicated.Set)
	put("temperature_c", f.Temperature.V.Celsius(), f.Temperature.Set)
	put("tilt_deg", f.Tilt.V.Degrees(), f.Tilt.Set)
	put("ambient_c", f.AmbientTemperature.V.Celsius(), f.AmbientTemperature.Set)
	put("pressure_hpa", float64(f.AmbientPressure.V)/100, f.AmbientPressure.Set)
	put("humidity_pct", float64(f.AmbientHumidity.V)*100, f.AmbientHumidity.Set)
	return m
}

func readJSON(t *testing.T, path string, into any) {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()
	if err := d.Decode(into); err != nil {
		t.Fatalf("%s: %v", path, err)
	}
}

func TestCaptures(t *testing.T) {
	for _, input := range inputs(t, "input.raw") {
		dir := filepath.Dir(input)
		for _, size := range []int{1, 7, 64, math.MaxInt} {
			t.Run(fmt.Sprintf("%s/%d", filepath.Base(dir), size), func(t *testing.T) { capture(t, dir, size) })
		}
	}
}

func inputs(t *testing.T, name string) []string {
	t.Helper()
	list, err := filepath.Glob(captures + "/*/" + name)
	if err != nil || len(list) == 0 {
		t.Fatalf("no %s under %s: %v", name, captures, err)
	}
	return list
}

func captureDecoder(t *testing.T, dir string) frame.Decoder {
	t.Helper()
	var o captureOptions
	readJSON(t, filepath.Join(dir, "frame.json"), &o)
	return decoder(t, frame.Options{Format: o.Format, Separator: o.Separator, Fields: o.Fields, Decimal: o.Decimal, ErrorWords: o.ErrorWords})
}

// Recordings with their times are decoded read by read.
func TestRecordedCaptures(t *testing.T) {
	for _, input := range inputs(t, "input.recording") {
		dir := filepath.Dir(input)
		t.Run(filepath.Base(dir), func(t *testing.T) {
			d := captureDecoder(t, dir)
			b, err := os.ReadFile(input)
			if err != nil {
				t.Fatal(err)
			}
			var got []frame.Frame
			var sent []byte
			for r, err := range recording.Reads(bytes.NewReader(b)) {
				if err != nil {
					t.Fatal(err)
				}
				sent = append(sent, r.Bytes...)
				got = append(got, feed(d, string(r.Bytes), r.Since)...)
			}
			compareAll(t, dir, got, sent)
		})
	}
}

// capture decodes a recording in pieces of the size given.
func capture(t *testing.T, dir string, size int) {
	d := captureDecoder(t, dir)
	input, err := os.ReadFile(filepath.Join(dir, "input.raw"))
	if err != nil {
		t.Fatal(err)
	}
	var got []frame.Frame
	for rest := input; len(rest) > 0; {
		n := min(size, len(rest))
		got = append(got, feed(d, string(rest[:n]), 0)...)
		rest = rest[n:]
	}
	compareAll(t, dir, got, input)
}

// compareAll compares with want.jsonl, and the raw bytes with what was sent.
func compareAll(t *testing.T, dir string, got []frame.Frame, sent []byte) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(dir, "want.jsonl"))
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(string(text)), "\n")
	if len(got) != len(lines) {
		t.Fatalf("got %d frames, want %d: %+v", len(got), len(lines), got)
	}
	rest := sent
	for i, line := range lines {
		var w want
		if err := json.Unmarshal([]byte(line), &w); err != nil {
			t.Fatal(err)
		}
		compare(t, i+1, got[i], w)
		// Raw bytes are kept as sent: each frame stands in the recording, in order.
		_, after, found := bytes.Cut(rest, got[i].Raw)
		if !found {
			t.Fatalf("frame %d: %q does not stand in the rest of the recording", i+1, got[i].Raw)
		}
		rest = after
	}
}

func compare(t *testing.T, n int, f frame.Frame, w want) {
	t.Helper()
	var code convert.Cause
	if f.Refusal != nil {
		code = f.Refusal.Code
	}
	if code != w.Code {
		t.Errorf("frame %d %q: got code %q (%v), want %q", n, f.Raw, code, f.Refusal, w.Code)
	}
	if w.Address != "*" && string(f.Address) != w.Address {
		t.Errorf("frame %d %q: got address %q, want %q", n, f.Raw, f.Address, w.Address)
	}
	got := values(f)
	if len(got) != len(w.Values) {
		t.Errorf("frame %d %q: got %v, want %v", n, f.Raw, got, w.Values)
	}
	for name, v := range w.Values {
		if math.Abs(got[name]-v) > 1e-9 { // rounding of the conversion to SI units and back
			t.Errorf("frame %d %q, %s: got %v, want %v ± 1e-9", n, f.Raw, name, got[name], v)
		}
	}
}
