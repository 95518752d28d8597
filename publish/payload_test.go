package publish_test

import (
	"bytes"
	"encoding/json"
	"math"
	"reflect"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"manobridge/convert"
	"manobridge/convert/quantity"
	"manobridge/publish"
	"manobridge/publish/publishtest"
)

// goodResult is the line that the description of the conversion command shows.
func goodResult() convert.Result {
	return convert.Result{
		Reading: convert.Reading{
			Name:        convert.Name{Run: "01J8Z3N5", Instrument: "hepa-bank-2", Seq: 18211},
			ReceivedAt:  time.Date(2026, 3, 1, 8, 0, 0, 0, time.UTC),
			Temperature: convert.Some(quantity.Celsius(21.3)),
		},
		Kind: convert.DifferentialValue, Differential: 123.46,
		CombinedU: 0.355, ExpandedU: 0.71, CoverageFactor: 2, EffectiveDOF: math.Inf(1),
		Head: convert.Some(quantity.Millimetres(15.21)), Config: "5f1c0de5a9c27b31",
	}
}

// keys gives the keys of a JSON object in their order, read by the standard library.
func keys(t testing.TB, data []byte) (order []string, values map[string]any) {
	t.Helper()
	if err := json.Unmarshal(data, &values); err != nil {
		t.Fatalf("%s: %v", data, err)
	}
	d := json.NewDecoder(bytes.NewReader(data))
	depth := 0
	key := false
	for {
		token, err := d.Token()
		if err != nil {
			return order, values
		}
		switch token := token.(type) {
		case json.Delim:
			depth += map[json.Delim]int{'{': 1, '[': 1, '}': -1, ']': -1}[token]
			key = depth == 1
		case string:
			if key {
				order = append(order, token)
				key = false
				continue
			}
			key = depth == 1
		default:
			key = depth == 1
		}
	}
}

func TestPayloadOfTheConversionCommand(t *testing.T) {
	r := goodResult()
	p := publish.NewPayload(&r)
	p.Row = 1
	const documented = `{"row":1,"time":"2026-03-01T08:00:00Z","instrument":"hepa-bank-2","differential_pressure_pa":123.46,
 "expanded_uncertainty_pa":0.71,"coverage_factor":2.0,"head_mm":15.21,"temperature_c":21.3,
 "status":"good","status_code":0,"ne107":"","causes":[]}`
	gotOrder, got := keys(t, p.Append(nil))
	wantOrder, want := keys(t, []byte(documented))
	if !reflect.DeepEqual(gotOrder, wantOrder) {
		t.Errorf("got keys %v, want %v", gotOrder, wantOrder)
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

func TestMessageAddsWhereItComesFrom(t *testing.T) {
	r := goodResult()
	p := publish.NewMessage("north-annex", &r)
	order, got := keys(t, p.Append(nil))
	if tail := order[len(order)-5:]; !reflect.DeepEqual(tail, []string{"site", "run", "seq", "config", "schema"}) {
		t.Errorf("got keys %v at the end, want site, run, seq, config, schema", tail)
	}
	for key, want := range map[string]any{"site": "north-annex", "run": "01J8Z3N5", "seq": 18211.0, "config": "5f1c0de5a9c27b31", "schema": 1.0} {
		if got[key] != want {
			t.Errorf("%s: got %v, want %v", key, got[key], want)
		}
	}
}

func TestBadResultHasItsStatusAndNoPressure(t *testing.T) {
	r := publishtest.Refused("r1", "suite-a", 20)
	p := publish.NewPayload(&r)
	order, got := keys(t, p.Append(nil))
	want := []string{"time", "instrument", "status", "status_code", "ne107", "causes"}
	if !reflect.DeepEqual(order, want) {
		t.Errorf("got keys %v, want %v and nothing else", order, want)
	}
	// BadNoCommunication is 0x80310000. Source: OPC Foundation, StatusCode.csv.
	if got["status"] != "bad" || got["status_code"] != float64(0x80310000) || got["ne107"] != "F" ||
		!reflect.DeepEqual(got["causes"], []any{"frame-nul"}) {
		t.Errorf("got %v, want bad, 0x80310000, F and the cause", got)
	}
}

func TestSealedInstrumentGivesAnAbsolutePressure(t *testing.T) {
	r := goodResult()
	r.Kind, r.Differential, r.Absolute = convert.AbsoluteValue, 0, 101325
	p := publish.NewPayload(&r)
	_, got := keys(t, p.Append(nil))
	if _, both := got["differential_pressure_pa"]; both || got["absolute_pressure_pa"] != 101325.0 {
		t.Errorf("got %v, want absolute_pressure_pa 101325 alone", got)
	}
}

func TestWhatIsNoNumberIsLeftOut(t *testing.T) {
	r := goodResult()
	r.Differential, r.Head = quantity.DifferentialPressure(math.NaN()), convert.Some(quantity.Length(math.Inf(1)))
	p := publish.NewPayload(&r)
	p.TemperatureC = convert.Some(math.NaN()) // put there by hand
	line := p.Append(nil)
	_, got := keys(t, line)
	for _, key := range []string{"differential_pressure_pa", "head_mm", "temperature_c"} {
		if v, there := got[key]; there {
			t.Errorf("%s: got %v, want it left out", key, v)
		}
	}
}

func TestPayloadReadsBackTheSame(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r := publishtest.AnyResult().Draw(rt, "result")
		p := publish.NewMessage(rapid.String().Draw(rt, "site"), &r)
		p.Row = rapid.IntRange(0, 1<<30).Draw(rt, "row")
		p.Instrument = rapid.String().Draw(rt, "instrument")
		line := p.Append(nil)
		if again := p.Append([]byte("before")); string(again) != "before"+string(line) {
			rt.Fatalf("got %s the second time, want %s", again, line)
		}
		if strings.ContainsAny(string(line), "\n\r") || strings.Contains(string(line), ":null") {
			rt.Fatalf("got %s, want one line without null", line)
		}
		back, err := publish.ParsePayload(line)
		if err != nil {
			rt.Fatalf("%s: %v", line, err)
		}
		if !samePayload(back, p) {
			rt.Fatalf("got %+v, want %+v", back, p)
		}
	})
}

// samePayload compares payloads; causes nil and empty are the same.
func samePayload(a, b publish.Payload) bool {
	if len(a.Causes) == 0 && len(b.Causes) == 0 {
		a.Causes, b.Causes = nil, nil
	}
	timesEqual := a.Time.Equal(b.Time)
	a.Time, b.Time = time.Time{}, time.Time{}
	return timesEqual && reflect.DeepEqual(a, b)
}

// Numbers and texts are held against the standard library's own JSON.
func TestNumbersAndTextsAreThoseOfTheStandardLibrary(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		v := rapid.Float64().Filter(func(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }).Draw(rt, "number")
		text := rapid.OneOf(rapid.String(), rapid.Map(rapid.SliceOf(rapid.Byte()), func(b []byte) string { return string(b) })).Draw(rt, "text")
		p := publish.Payload{Time: publishtest.Epoch(), Instrument: text, DifferentialPressurePa: convert.Some(v)}
		var got struct {
			Instrument string      `json:"instrument"`
			Pressure   json.Number `json:"differential_pressure_pa"`
		}
		if err := json.Unmarshal(p.Append(nil), &got); err != nil {
			rt.Fatal(err)
		}
		if back, err := strconv.ParseFloat(string(got.Pressure), 64); err != nil || back != v {
			rt.Fatalf("got %s, want exactly %v", got.Pressure, v)
		}
		digits := func(s string) int {
			mantissa, _, _ := strings.Cut(s, "e")
			return len(strings.Trim(strings.NewReplacer(".", "", "-", "").Replace(mantissa), "0"))
		}
		shortest, err := json.Marshal(v)
		if err != nil || digits(string(got.Pressure)) > digits(string(shortest)) {
			rt.Fatalf("got %s, want no more digits than %s", got.Pressure, shortest)
		}
		var want string
		quoted, err := json.Marshal(text)
		if err == nil {
			err = json.Unmarshal(quoted, &want)
		}
		if err != nil || got.Instrument != want {
			rt.Fatalf("got text %q, want %q (%v)", got.Instrument, want, err)
		}
	})
}

// What a digitizer sends in tenths and hundredths is printed so, not with the dust of its way through SI units.
func TestMeasuredDecimalsKeepTheirDigits(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		hundredths := rapid.Int64Range(-500_000, 500_000).Draw(rt, "hundredths")
		r := goodResult()
		r.Head = convert.Some(quantity.Millimetres(float64(hundredths) / 100))
		r.Temperature = convert.Some(quantity.Celsius(float64(hundredths%10000) / 100))
		p := publish.NewPayload(&r)
		if got, want := p.HeadMM.V, float64(hundredths)/100; got != want {
			rt.Fatalf("head_mm: got %v, want %v ± 0", got, want)
		}
		if got, want := p.TemperatureC.V, float64(hundredths%10000)/100; got != want {
			rt.Fatalf("temperature_c: got %v, want %v ± 0", got, want)
		}
	})
}

func TestPayloadIsEncodedWithoutAllocation(t *testing.T) {
	r := goodResult()
	p := publish.NewMessage("north-annex", &r)
	buffer := make([]byte, 0, 1024)
	if got := testing.AllocsPerRun(100, func() { buffer = p.Append(buffer[:0]) }); got != 0 {
		t.Errorf("got %v allocations for each payload, want 0", got)
	}
}

func TestParsePayloadSaysWhatIsMissing(t *testing.T) {
	r := goodResult()
	p := publish.NewMessage("north-annex", &r)
	whole := string(p.Append(nil))
	for _, tc := range []struct{ cut, with, want string }{
		{`"time":"2026-03-01T08:00:00Z",`, "", `no key "time"`},
		{`"instrument":"hepa-bank-2",`, "", `no key "instrument"`},
		{`"status":"good",`, "", `no key "status"`},
		{`"status_code":0,`, "", `no key "status_code"`},
		{`"ne107":"",`, "", `no key "ne107"`},
		{`"causes":[],`, "", `no key "causes"`},
		{`"site":"north-annex",`, "", `no key "site"`},
		{`"run":"01J8Z3N5",`, "", `no key "run"`},
		{`"seq":18211,`, "", `no key "seq"`},
		{`"config":"5f1c0de5a9c27b31",`, "", `no key "config"`},
		{`"schema":1`, `"schema":2`, "schema 2, allowed 1"},
		{`{"time"`, `{"row":-1,"time"`, "row -1, allowed 1 and up"},
		{`2026-03-01T08:00:00Z`, `0000-01-01T00:00:00+02:00`, "year -1"},
		{`}`, ``, "unexpected end"},
	} {
		if !strings.Contains(whole, tc.cut) {
			t.Fatalf("%q is not in %s", tc.cut, whole)
		}
		_, err := publish.ParsePayload([]byte(strings.Replace(whole, tc.cut, tc.with, 1)))
		if err == nil || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("without %s: got %v, want %q", tc.cut, err, tc.want)
		}
	}
}

func FuzzParsePayload(f *testing.F) {
	good, bad := goodResult(), publishtest.Refused("r1", "suite-a", 20)
	for _, r := range []*convert.Result{&good, &bad} {
		for _, p := range []publish.Payload{publish.NewPayload(r), publish.NewMessage("north-annex", r)} {
			f.Add(p.Append(nil))
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := publish.ParsePayload(data)
		if err != nil {
			return
		}
		line := p.Append(nil)
		back, err := publish.ParsePayload(line)
		if err != nil {
			t.Fatalf("%q is read, but %q is not: %v", data, line, err)
		}
		if !samePayload(back, p) {
			t.Fatalf("%q: got %+v, want %+v", data, back, p)
		}
	})
}

func BenchmarkPayload(b *testing.B) {
	r := goodResult()
	buffer := make([]byte, 0, 1024)
	b.ReportAllocs()
	for b.Loop() {
		p := publish.NewMessage("north-annex", &r)
		buffer = p.Append(buffer[:0])
	}
}
