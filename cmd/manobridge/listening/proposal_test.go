package listening_test

import (
	"fmt"
	"log/slog"
	"strings"
	"testing"

	"manobridge/cmd/manobridge/bridge"
	"manobridge/configs"
	"manobridge/ingest"
	"manobridge/ingest/frame"
	"manobridge/ingest/ingesttest"
	"manobridge/ingest/recording"
	"manobridge/ingest/serialport"
)

// proposed takes the configuration out of what was shown, names the fields, and puts an instrument to it.
func proposed(t *testing.T, shown, fields string) *configs.Config {
	t.Helper()
	_, text, found := strings.Cut(shown, "name each field:\n\n")
	text, _, ended := strings.Cut(text, "\nNames of fields")
	if !found || !ended {
		t.Fatalf("got\n%s\nwant a proposal", shown)
	}
	from := strings.Index(text, "fields: [")
	to := from + strings.Index(text[from:], "]")
	text = text[:from] + "fields: [" + fields + text[to:]
	text = `site: test-hall
bridge: bench-pc
location: {gravity_m_s2: 9.80715, gravity_u_m_s2: 0.00002}
ambient: {temperature_c: 21.0, pressure_hpa: 962.0, relative_humidity_pct: 40}
liquids:
  pale-oil: {density_kg_m3: 830.0, reference_c: 20.0, expansion_per_k: 0.00085, density_u_kg_m3: 0.4}
instruments:
  bank-1:
    port: rack-a
    address: "02"
    liquid: pale-oil
    geometry: {kind: inclined-reservoir, slope_deg: 11.54, bore_mm: 4.0, reservoir_bore_mm: 40.0, scale_mm: [0, 300]}
    zero: {low_mm: 10.2, temperature_c: 20.4}
journal: {path: manobridge.db}
` + text
	c, err := configs.Parse("proposed.yaml", []byte(text), configs.Options{HostName: "bench"})
	if err != nil {
		t.Fatalf("the proposal does not load: %v\n%s", err, text)
	}
	return c
}

// What is proposed loads once its fields are named, and decodes the very frames it was guessed from, spoilt ones refused.
// The check values are worked by their definitions: exclusive or, sum, none.
func TestProposalDecodesWhatItWasGuessedFrom(t *testing.T) {
	sum := func(s string) (v byte) {
		for i := range len(s) {
			v += s[i]
		}
		return v
	}
	for _, c := range []struct {
		name, fields string
		line         func(i int) string
		checked      bool
	}{
		{"comma", "address, low_mm, temperature_c", func(i int) string { return fmt.Sprintf("02,%.2f,21.4", 70+float64(i%50)/4) }, false},
		{"semicolon, decimal comma, exclusive or", "address, low_mm, temperature_c", func(i int) string {
			s := fmt.Sprintf("02;%d,25;21,4", 70+i%20)
			x := byte(0)
			for k := range len(s) {
				x ^= s[k]
			}
			return fmt.Sprintf("%s*%02X", s, x)
		}, true},
		{"tab, sum", "address, low_mm, temperature_c", func(i int) string {
			s := fmt.Sprintf("02\t%d.5\t21.4", 70+i%20)
			return fmt.Sprintf("%s %02X", s, sum(s))
		}, true},
		{"blanks", "address, low_mm, temperature_c", func(i int) string { return fmt.Sprintf("02  %.1f   21.4", 70+float64(i%20)) }, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			shown, _ := listen(t, nil, "Names of fields", func(i int) string { return c.line(i) + "\r\n" })
			cfg := proposed(t, shown, c.fields)
			_, d, err := bridge.Line(cfg, &cfg.Ports[0], serialport.Settings{}, ingest.Clock{}, slog.New(slog.DiscardHandler))
			if err != nil {
				t.Fatal(err)
			}
			d.Feed([]byte("\n"), frame.Stamp{})
			var f frame.Frame
			d.Next(&f)
			for i := range 40 {
				d.Feed([]byte(c.line(i)+"\r\n"), frame.Stamp{})
				if !d.Next(&f) || f.Refusal != nil || !f.Low.Set || f.Low.V.Millimetres() < 70 || string(f.Address) != "02" || string(f.Raw) != c.line(i) {
					t.Fatalf("%q: got %v, want it decoded as it was sent; proposal:\n%s", c.line(i), f.Refusal, shown)
				}
				d.Next(&f)
			}
			if !c.checked {
				return
			}
			spoilt := strings.Replace(c.line(3), "73", "78", 1)
			d.Feed([]byte(spoilt+"\r\n"), frame.Stamp{})
			if !d.Next(&f) || !strings.Contains(fmt.Sprint(f.Refusal), "carries") {
				t.Errorf("%q: got %v, want it refused by its check value", spoilt, f.Refusal)
			}
		})
	}
}

// What was recorded and is played gives the very frames that were shown, byte for byte, good and refused.
func TestRecordedAndPlayedFramesAreThoseShown(t *testing.T) {
	d := benchDecoder(t)
	lines := []string{"02,75.25,21.0", "03,7S.25,21.0", "02,\\x,\"q\"", "03,7\x00.25,21.0", "99,1,1", "02,80.5,\xb021"}
	all := strings.Repeat(strings.Join(lines, "\r\n")+"\r\n", 50)
	shown, recorded := listen(t, d, `"02,80.5,`, func(i int) string {
		return all[11*i%(len(all)-11):][:11] // reads do not end where frames do
	})
	var again []string
	d = benchDecoder(t)
	var f frame.Frame
	for r, err := range recording.Reads(strings.NewReader(recorded)) {
		if err != nil {
			t.Fatal(err)
		}
		d.Feed(r.Bytes, frame.Stamp{Wall: r.At, Mono: r.Since})
		for d.Next(&f) {
			again = append(again, fmt.Sprintf("%+q", f.Raw))
		}
	}
	var before []string
	for _, line := range strings.Split(strings.TrimSpace(shown), "\n") {
		before = append(before, line[len("15:04:05.000  "):])
	}
	if len(again) != len(before) || len(again) < 5 {
		t.Fatalf("got %d frames played, %d shown, want as many:\n%s\n%s", len(again), len(before), shown, recorded)
	}
	for i := range again {
		if !strings.HasPrefix(before[i], again[i]+"  ") {
			t.Errorf("frame %d: got %s, want it as in %s", i, again[i], before[i])
		}
	}

	// And so through a source, which is what run --play does.
	src, err := ingest.New(ingesttest.Options(t, ingesttest.NewPort().Open, nil))
	if err != nil {
		t.Fatal(err)
	}
	out := make(chan ingest.Item, 10_000)
	if err := src.Play(t.Context(), recording.Reads(strings.NewReader(recorded)), nil, out); err != nil {
		t.Fatal(err)
	}
	if got := src.Stats().Frames; got != uint64(len(before)) {
		t.Errorf("got %d frames through a source, want %d", got, len(before))
	}
}

func benchDecoder(t *testing.T) frame.Decoder {
	t.Helper()
	d, err := frame.New(ingesttest.Bench())
	if err != nil {
		t.Fatal(err)
	}
	return d
}
