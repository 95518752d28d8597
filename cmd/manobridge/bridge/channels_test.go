package bridge_test

import (
	"fmt"
	"log/slog"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"manobridge/cmd/manobridge/bridge"
	"manobridge/configs"
	"manobridge/convert"
	"manobridge/ingest"
	"manobridge/ingest/ingesttest"
	"manobridge/publish"
	"manobridge/publish/publishtest"
)

// roomConfig is a bench with a manometer on one line and a barometer that speaks on another.
func roomConfig(t *testing.T, bench, room, journalPath, more, publish string) *configs.Config {
	t.Helper()
	text := fmt.Sprintf(`site: test-hall
bridge: bench-pc
location: {gravity_m_s2: 9.80715, gravity_u_m_s2: 0.00002}
ambient: {temperature_c: 21.0, pressure_hpa: 962.0, relative_humidity_pct: 40, from: barometer, max_age: 1s}
ports:
  rack-a: {device: %q, baud: 9600, silence: 20s, reopen: {first: 20ms, longest: 100ms}, frame: {format: delimited, fields: [address, low_mm, temperature_c]}}
  room: {device: %q, baud: 9600, silence: 700ms, reopen: {first: 20ms, longest: 100ms}, frame: {format: delimited, fields: [ambient_c, pressure_hpa, humidity_pct]}}
stations:
  barometer: {port: room}
instruments:
  bank-1:
    port: rack-a
    address: "02"
    liquid: water
    geometry: {kind: inclined-reservoir, slope_deg: 11.54, bore_mm: 4.0, reservoir_bore_mm: 40.0, scale_mm: [0, 300]}
    zero: {low_mm: 10.2, temperature_c: 20.4}
%s
%s
journal: {path: %q}
run: {drain: 10s}
`, bench, room, more, publish, journalPath)
	c, err := configs.Parse("room.yaml", []byte(text), configs.Options{HostName: "bench"})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// send writes a frame again and again until the condition holds.
func send(t *testing.T, line *ingesttest.Line, frame string, what string, cond func() bool) {
	t.Helper()
	eventually(t, what, func() bool {
		line.Send(frame)
		return cond()
	})
}

// A station falls silent: the results are uncertain with the cause while the configured air stands in, and good again when
// it speaks. Its own rows are samples, its silence is a gap, and no sink hears of it.
func TestStationFallsSilent(t *testing.T) {
	broker := publishtest.Mosquitto(t)
	subscriber := publishtest.Subscribe(t, broker.Addr, []string{"manobridge/test-hall/#"})
	bench, room := ingesttest.NewLine(t), ingesttest.NewLine(t)
	path := journalPath(t)
	x := start(t, roomConfig(t, bench.Path, room.Path, path, "", fmt.Sprintf(`publish: {mqtt: {url: "tcp://%s"}}`, broker.Addr)))
	eventually(t, "both ports", func() bool {
		return len(x.b.Sources()) == 2 && x.b.Sources()[0].Stats().Open && x.b.Sources()[1].Stats().Open
	})
	bench.Send("\n")
	room.Send("\n")
	send(t, room, "23.0,890.0,55\n", "a good result", func() bool {
		bench.Send("02,110.0,21.0\n")
		return x.b.Counts().Good > 0
	})
	uncertain := x.b.Counts().Uncertain
	send(t, bench, "02,110.0,21.0\n", "results without the station", func() bool { return x.b.Counts().Uncertain > uncertain+5 })
	good := x.b.Counts().Good
	send(t, room, "23.0,890.0,55\n", "results with it again", func() bool {
		bench.Send("02,110.0,21.0\n")
		return x.b.Counts().Good > good+5
	})
	eventually(t, "every result acknowledged", func() bool { return x.b.Deliveries()[0].Waiting == 0 })
	x.end()

	var last convert.Result
	silences, samples, uncertainRows := 0, 0, 0
	for _, row := range rows(t, path) {
		if row.Instrument == "barometer" {
			if samples++; !row.Sample {
				t.Errorf("got row %+v of the station, want a sample", row)
			}
			if row.Refusal != nil && row.Refusal.Code == convert.Silence {
				silences++
			}
			continue
		}
		// By hand: the air at 962 hPa and 40 %, and at 890 hPa, differ by 7 % of 0.12 % of the pressure.
		fromRoom := row.Status == convert.Good
		if live := row.AmbientPressure.Set && math.Abs(float64(row.AmbientPressure.V)-89000) < 1e-6; live != fromRoom && row.Status != convert.Bad {
			t.Errorf("seq %d: got %v with ambient pressure %v", row.Seq, row.Causes, row.AmbientPressure)
		}
		if row.Status == convert.Uncertain && (!slices.Equal(row.Causes, []convert.Cause{convert.ChannelOld}) || row.StatusCode != 0x40910000) {
			t.Errorf("seq %d: got %v %#x, want channel-old and UncertainSubstituteValue", row.Seq, row.Causes, row.StatusCode)
		}
		if row.Status == convert.Uncertain {
			uncertainRows++
		}
		last = row.Result
	}
	if silences == 0 || samples == silences || last.Status != convert.Good {
		t.Errorf("got %d rows of the station, %d of them silence, and a last result %v; want both kinds and good", samples, silences, last.Causes)
	}
	for _, m := range subscriber.Messages() {
		if strings.Contains(m.Topic, "barometer") {
			t.Errorf("got %s %s, want nothing of the station published", m.Topic, m.Payload)
		}
	}
	log := x.log.String()
	lost, again := strings.Count(log, "stands in for one from elsewhere"), strings.Count(log, "values from elsewhere come again")
	if lost == 0 || lost != again || lost >= uncertainRows {
		t.Errorf("got %d losses and %d recoveries said over %d uncertain results, want each change once:\n%s", lost, again, uncertainRows, log)
	}
	if !strings.Contains(log, "code=silence instrument=barometer") {
		t.Errorf("got no word of the silence of the station:\n%s", log)
	}
}

// An averaged instrument: each frame is a row of the journal, the averages alone come to a subscriber, and each seq is an
// average or a sample before the next one.
func TestAveragesAtASubscriber(t *testing.T) {
	broker := publishtest.Mosquitto(t)
	subscriber := publishtest.Subscribe(t, broker.Addr, []string{"manobridge/test-hall/bank-1/pressure", "manobridge/test-hall/bank-1/backlog"})
	bench, room := ingesttest.NewLine(t), ingesttest.NewLine(t)
	path := journalPath(t)
	x := start(t, roomConfig(t, bench.Path, room.Path, path, "    average: {window: 1s, min_good_fraction: 0.5}\n    channels: {ambient_c: {from: fixed}, pressure_hpa: {from: fixed}, humidity_pct: {from: fixed}}",
		fmt.Sprintf(`publish: {mqtt: {url: "tcp://%s"}}`, broker.Addr)))
	eventually(t, "the port", func() bool { return x.b.Sources()[0].Stats().Open })
	bench.Send("\n")
	n := 0
	eventually(t, "three averages at the subscriber", func() bool {
		n++
		bench.Send(fmt.Sprintf("02,%d.0,21.0\n", 109+2*(n%2))) // 109 and 111 mm in turn
		return len(subscriber.Messages()) >= 3
	})
	eventually(t, "every result acknowledged", func() bool { return x.b.Deliveries()[0].Waiting == 0 })
	x.end()

	averages, samples := map[uint64]publish.Row{}, 0
	next := uint64(1)
	for _, row := range rows(t, path) {
		if row.Instrument != "bank-1" {
			continue
		}
		if row.Seq != next {
			t.Errorf("got seq %d, want %d: every frame is a row", row.Seq, next)
		}
		next++
		if row.Sample {
			samples++
			continue
		}
		a := row.Average
		if a == nil {
			t.Fatalf("seq %d: got no average in %+v", row.Seq, row)
		}
		if a.Samples != samples+1 || a.Good != a.Samples || a.Window < time.Second || !(a.MinPa < a.MeanPa && a.MeanPa < a.MaxPa) || a.SDPa <= 0 {
			t.Errorf("seq %d after %d samples: got %+v", row.Seq, samples, a)
		}
		if mm := row.Low.V.Millimetres(); mm < 109.5 || mm > 110.5 {
			t.Errorf("seq %d: got mean position %v mm, want about 110", row.Seq, mm)
		}
		averages[row.Seq], samples = row, 0
	}
	got := subscriber.Messages()
	seen := map[uint64]bool{}
	for _, m := range got {
		p, err := publish.ParsePayload(m.Payload)
		if err != nil {
			t.Fatal(err)
		}
		row, ok := averages[p.Origin.Seq]
		if !ok {
			t.Errorf("got %s, want an average of the journal", m.Payload)
			continue
		}
		seen[p.Origin.Seq] = true
		if pa, _ := row.Pressure(); p.DifferentialPressurePa.V != pa || p.Average == nil || p.Average.Samples != row.Average.Samples || p.Average.SDPa.V != row.Average.SDPa {
			t.Errorf("got %s, want the row %+v with %+v", m.Payload, row.Result, row.Average)
		}
	}
	if len(seen) != len(averages) {
		t.Errorf("got %d averages at the subscriber, want the %d of the journal", len(seen), len(averages))
	}
}

// A new source of the air is taken up while the bridge runs, by an instrument whose own block did not change: where nothing may
// stand in for a station that is not heard, there is no result. What a station said before stays.
func TestNewSourceOfTheAir(t *testing.T) {
	bench, room := ingesttest.NewLine(t), ingesttest.NewLine(t)
	path := journalPath(t)
	c := roomConfig(t, bench.Path, room.Path, path, "", "")
	x := start(t, c)
	eventually(t, "both ports", func() bool { return x.b.Sources()[0].Stats().Open && x.b.Sources()[1].Stats().Open })
	bench.Send("\n")
	room.Send("\n")
	send(t, room, "23.0,890.0,55\n", "a good result", func() bool {
		bench.Send("02,110.0,21.0\n")
		return x.b.Counts().Good > 0
	})
	send(t, bench, "02,110.0,21.0\n", "an uncertain result", func() bool { return x.b.Counts().Uncertain > 0 })
	bad := x.b.Counts().Bad
	now := roomConfig(t, bench.Path, room.Path, path, "", "")
	now.Ambient.WhenOld = configs.OldIsBad
	if err := x.b.Reload(t.Context(), now); err != nil {
		t.Fatal(err)
	}
	send(t, bench, "02,110.0,21.0\n", "a bad result", func() bool { return x.b.Counts().Bad > bad })
	now = roomConfig(t, bench.Path, room.Path, path, "", "")
	now.Ambient.MaxAge = configs.Duration(time.Hour)
	if err := x.b.Reload(t.Context(), now); err != nil {
		t.Fatal(err)
	}
	good := x.b.Counts().Good
	send(t, bench, "02,110.0,21.0\n", "a good result by what the station said before", func() bool { return x.b.Counts().Good > good })
	x.end()
	if n := causesOf(rows(t, path)); n[convert.ChannelMissing] == 0 || n[convert.ChannelOld] == 0 {
		t.Errorf("got %v by cause, want channel-old, and channel-missing after the new configuration", n)
	}
}

// A station may be asked like an instrument; its registers need no position.
func TestStationThatIsAsked(t *testing.T) {
	c, err := configs.Parse("room", []byte(`site: test-hall
bridge: bench-pc
location: {gravity_m_s2: 9.80715, gravity_u_m_s2: 0.00002}
ambient: {temperature_c: 21.0, pressure_hpa: 962.0, relative_humidity_pct: 40, from: barometer}
ports:
  rack-a: {device: /dev/a, baud: 9600, frame: {format: delimited, fields: [low_mm, temperature_c]}}
  room: {device: /dev/b, baud: 9600, ask: {protocol: modbus-rtu, registers: {pressure_hpa: {at: 0, type: uint16, scale: 0.1}}}}
stations: {barometer: {port: room, address: "17"}}
instruments:
  bank-1:
    port: rack-a
    liquid: water
    geometry: {kind: inclined-reservoir, slope_deg: 11.54, bore_mm: 4.0, reservoir_bore_mm: 40.0, scale_mm: [0, 300]}
    zero: {low_mm: 10.2, temperature_c: 20.4}
`), configs.Options{HostName: "bench"})
	if err != nil {
		t.Fatal(err)
	}
	p := &c.Ports[1]
	open, decoder, err := bridge.Line(c, p, bridge.Settings(p), ingest.SystemClock(time.Now()), slog.New(slog.DiscardHandler))
	if err != nil || open == nil || decoder == nil {
		t.Errorf("got %v, want a line that asks the station", err)
	}
}
