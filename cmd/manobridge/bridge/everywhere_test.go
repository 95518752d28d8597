package bridge_test

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/ingest/ingesttest"
	"manobridge/publish"
	"manobridge/publish/publishtest"
)

// frames is how many the long way is tried with.
const frames = 10000

// Ten thousand frames written to a pseudo-terminal by another process arrive, all of them and with equal values, in the
// journal, at a subscriber of Mosquitto, and in a time-series store, read back from it.
func TestEveryFrameArrivesEverywhere(t *testing.T) {
	stores := map[string]func(t *testing.T) (url string, read func() []publishtest.Sample){
		"VictoriaMetrics": func(t *testing.T) (string, func() []publishtest.Sample) {
			s := publishtest.VictoriaMetrics(t)
			return s.URL(), func() []publishtest.Sample { return publishtest.ReadVictoriaMetrics(t, s, "manometer") }
		},
		"InfluxDB": func(t *testing.T) (string, func() []publishtest.Sample) {
			s := publishtest.InfluxDB(t, "pressure")
			return s.URL(), func() []publishtest.Sample { return publishtest.ReadInfluxDB(t, s, "pressure", "manometer") }
		},
	}
	for name, open := range stores {
		t.Run(name, func(t *testing.T) {
			broker := publishtest.Mosquitto(t)
			url, read := open(t)
			line := ingesttest.NewLine(t)
			path := journalPath(t)
			subscriber := publishtest.Subscribe(t, broker.Addr, []string{"manobridge/test-hall/+/pressure", "manobridge/test-hall/+/backlog"})
			// The backlog is unbounded here: on a slow machine some of so quick a burst is late.
			x := start(t, config(t, line.Path, path, fmt.Sprintf(`publish:
  mqtt: {url: "tcp://%s", backlog_per_s: 100000}
  series: {url: %q, org: lab, bucket: pressure}`, broker.Addr, url)))
			opened(t, x, line)
			writeFrames(t, line)
			eventually(t, "every frame", func() bool { return x.b.Counts().Good == frames })
			eventually(t, "every result acknowledged", func() bool {
				for _, d := range x.b.Deliveries() {
					if d.Waiting > 0 {
						return false
					}
				}
				return true
			})
			x.end()

			kept := map[convert.Name]publish.Row{}
			for _, row := range rows(t, path) {
				if row.Status == convert.Good {
					kept[row.Name] = row
				}
			}
			if len(kept) != frames {
				t.Fatalf("got %d good results in the journal, want %d", len(kept), frames)
			}
			holdMessages(t, subscriber, kept)
			digits := map[string]float64{"VictoriaMetrics": 1e-10}[name] // InfluxDB: exactly equal
			holdSamples(t, read(), kept, digits)
		})
	}
}

// writeFrames lets another process write the frames of two instruments to the line.
func writeFrames(t *testing.T, line *ingesttest.Line) {
	t.Helper()
	var text bytes.Buffer
	for i := range frames {
		fmt.Fprintf(&text, "%02d,%.2f,%.1f\n", 2+i%2, 20+float64(i%2500)/10, 20+float64(i%50)/10)
	}
	file := filepath.Join(t.TempDir(), "frames.txt")
	if err := os.WriteFile(file, text.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	cat := exec.Command("cat", file)
	cat.Stdout = line.Master()
	if err := cat.Run(); err != nil {
		t.Fatalf("write the frames: %v", err)
	}
}

// holdMessages holds what the subscriber got against the journal, repeats taken out by name.
func holdMessages(t *testing.T, s *publishtest.Subscriber, kept map[convert.Name]publish.Row) {
	t.Helper()
	got := map[convert.Name]publish.Payload{}
	seen := 0
	collect := func() bool {
		list := s.Messages()
		for _, m := range list[seen:] {
			p, err := publish.ParsePayload(m.Payload)
			if err != nil {
				t.Fatalf("read %s: %v", m.Payload, err)
			}
			if p.Status == "good" {
				got[convert.Name{Run: p.Origin.Run, Instrument: p.Instrument, Seq: p.Origin.Seq}] = p
			}
		}
		seen = len(list)
		return len(got) >= len(kept)
	}
	eventually(t, "every message at the subscriber", collect)
	for name, row := range kept {
		p, ok := got[name]
		if !ok {
			t.Fatalf("%v never came to the subscriber", name)
		}
		pa, _ := row.Pressure()
		if p.DifferentialPressurePa.V != pa || p.ExpandedUncertaintyPa.V != row.ExpandedU || !p.Time.Equal(row.ReceivedAt) || p.Origin.Config != row.Config {
			t.Fatalf("%v: got %+v, want the row of the journal %+v", name, p, row)
		}
	}
}

// holdSamples holds what the store gives back against the journal. VictoriaMetrics keeps milliseconds, so several results
// share a time there, and about twelve digits, as it packs numbers of one block with a common exponent.
func holdSamples(t *testing.T, samples []publishtest.Sample, kept map[convert.Name]publish.Row, digits float64) {
	t.Helper()
	type key struct {
		instrument, field string
		ms                int64
	}
	want, got := map[key][]float64{}, map[key][]float64{}
	for _, row := range kept {
		pa, _ := row.Pressure()
		for field, v := range map[string]float64{"differential_pressure_pa": pa, "expanded_uncertainty_pa": row.ExpandedU,
			"head_mm": float64(row.Head.V) * 1000, "seq": float64(row.Seq)} {
			k := key{row.Instrument, field, row.ReceivedAt.UnixMilli()}
			want[k] = append(want[k], v)
		}
	}
	for _, s := range samples {
		k := key{s.Instrument, s.Field, s.Time.UnixMilli()}
		if want[k] != nil {
			got[k] = append(got[k], s.Value)
		}
	}
	wrong := 0
	for k, values := range want {
		have := got[k]
		slices.Sort(values)
		slices.Sort(have)
		same := len(have) == len(values)
		for i := 0; same && i < len(values); i++ {
			same = math.Abs(have[i]-values[i]) <= digits*math.Abs(values[i])
		}
		if !same {
			if wrong++; wrong <= 3 {
				t.Errorf("%s of %s at %v: got %v in the store, want %v", k.field, k.instrument, time.UnixMilli(k.ms).UTC(), have, values)
			}
		}
	}
	if wrong > 0 {
		t.Errorf("%d of %d times differ between store and journal", wrong, len(want))
	}
}
