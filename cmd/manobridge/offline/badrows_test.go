package offline

import (
	"encoding/json"
	"errors"
	"io"
	"math"
	"strings"
	"testing"

	"manobridge/cmd/manobridge/assemble"
	"manobridge/configs"
	"manobridge/convert"
)

// shelf has a reservoir instrument whose pressures are easily worked: 1000 kg/m³, 9.81 m/s², sin 30° + 0.01.
const shelf = `
site: test-hall
bridge: bench-pc
location: {gravity_m_s2: 9.81, gravity_u_m_s2: 0}
ambient: {temperature_c: 20, pressure_hpa: 1000, relative_humidity_pct: 0}
liquids:
  oil: {density_kg_m3: 1000, density_u_kg_m3: 0, reference_c: 20, expansion_per_k: 0.001, valid_c: [0, 50]}
instruments:
  hood:
    offline: true
    liquid: oil
    geometry: {kind: inclined-reservoir, slope_deg: 30, area_ratio: 0.01, scale_mm: [0, 300]}
    zero: {low_mm: 10, temperature_c: 20}
  duct:
    offline: true
    liquid: oil
    geometry: {kind: u-tube, bore_mm: 6, scale_mm: [0, 500]}
    zero: {high_mm: 200, low_mm: 200, temperature_c: 20}
`

func shelfConverters(t *testing.T) map[string]*convert.Converter {
	t.Helper()
	c, err := configs.Parse("shelf", []byte(shelf), configs.Options{HostName: "bench"})
	if err != nil {
		t.Fatal(err)
	}
	all := map[string]*convert.Converter{}
	for i := range c.Instruments {
		if all[c.Instruments[i].Name], err = assemble.Converter(c, &c.Instruments[i]); err != nil {
			t.Fatal(err)
		}
	}
	return all
}

// Every kind of bad row gives one line, in its place, with a cause, a reason and no pressure, and a good row after it gives
// what it gives alone: 0.1 m · (1000 − 1.189) kg/m³ · 9.81 m/s² · 0.51 = 499.7 Pa.
func TestBadRowsHarmNothingElse(t *testing.T) {
	const header, good = "time,instrument,high_mm,low_mm,temperature_c\n", "2026-03-01T08:00:00Z,hood,,110,20\n"
	want := 0.1 * (1000 - 1e5/(287.05*293.15)) * 9.81 * 0.51
	bad := []struct {
		name, row string
		cause     convert.Cause
		says      string
	}{
		{"not a number", ",hood,,abc,20", convert.FrameNumber, `"abc"`},
		{"with a unit", ",hood,,110 mm,20", convert.FrameNumber, `"110 mm"`},
		{"NaN", ",hood,,NaN,20", convert.NotFinite, "low-limb position"},
		{"infinity", ",hood,,-Inf,20", convert.NotFinite, "low-limb position"},
		{"temperature NaN", ",hood,,110,nan", convert.NotFinite, "liquid temperature"},
		{"empty position", ",hood,,,20", convert.PositionMissing, "low-limb position"},
		{"one of two positions", ",duct,100,,20", convert.PositionMissing, "low-limb position"},
		{"empty temperature", ",hood,,110,", convert.TemperatureMissing, "liquid temperature"},
		{"off scale", ",hood,,300.1,20", convert.LimbOffScale, "0 to 300 mm"},
		{"temperature outside the liquid's range", ",hood,,110,50.5", convert.TemperatureRange, "0 to 50 °C"},
		{"below absolute zero", ",hood,,110,-300", convert.TemperatureRange, "0 to 50 °C"},
		{"missing field", ",hood,,110", convert.FrameFields, "4 fields"},
		{"extra field", ",hood,,110,20,1", convert.FrameFields, "6 fields"},
		{"decimal comma", ",hood,,110,5,20", convert.FrameFields, "6 fields"},
		{"decimal comma in quotes", `,hood,,"110,5",20`, convert.FrameNumber, `"110,5"`},
		{"unknown instrument", ",hod,,110,20", convert.FrameAddress, "duct, hood"},
		{"no instrument", ",,,110,20", convert.FrameAddress, "duct, hood"},
		{"time without zone", "2026-03-01T08:00:00,hood,,110,20", convert.FrameFormat, "zone"},
		{"time of no day", "2026-02-30T08:00:00Z,hood,,110,20", convert.FrameFormat, "2026-02-30"},
		{"quote in a bare field", `,hood,,1"10,20`, convert.FrameFormat, "quote"},
		{"hexadecimal", ",hood,,0x6E,20", convert.FrameNumber, "0x6E"},
		{"underscore", ",hood,,1_10,20", convert.FrameNumber, "1_10"},
		{"too large for a number", ",hood,,1e999,20", convert.FrameNumber, "1e999"},
		{"a limb that is not read", ",hood,5,110,20", convert.FrameFields, "high_mm"},
		{"NUL", ",hood,,11\x000,20", convert.FrameNumber, `\x00`},
	}
	var in strings.Builder
	in.WriteString(header + good)
	for _, b := range bad {
		in.WriteString(b.row + "\n" + good)
	}
	rows, err := NewReader(strings.NewReader(in.String()), shelfConverters(t))
	if err != nil {
		t.Fatal(err)
	}
	next := func(number int) map[string]any {
		row, err := rows.Next()
		if err != nil {
			t.Fatalf("row %d: %v", number, err)
		}
		line := row.JSON()
		if strings.ContainsAny(string(line), "\n\r") {
			t.Fatalf("row %d: got more than one line: %q", number, line)
		}
		var out map[string]any
		if err := json.Unmarshal(line, &out); err != nil {
			t.Fatalf("row %d: %v in %s", number, err, line)
		}
		if out["row"] != float64(number) {
			t.Fatalf("got row %v, want %d", out["row"], number)
		}
		return out
	}
	isGood := func(out map[string]any) {
		if p, ok := out["differential_pressure_pa"].(float64); !ok || math.Abs(p-want) > 0.01 || out["status"] != "good" {
			t.Errorf("row %v: got %v, want %v ± 0.01 Pa, good", out["row"], out, want)
		}
	}
	isGood(next(1))
	for i, b := range bad {
		out := next(2*i + 2)
		causes, _ := out["causes"].([]any)
		reason, _ := out["reason"].(string)
		if out["status"] != "bad" || len(causes) != 1 || causes[0] != string(b.cause) || !strings.Contains(reason, b.says) {
			t.Errorf("%s: got %v, want bad by %s with a reason that says %q", b.name, out, b.cause, b.says)
		}
		for _, key := range []string{"differential_pressure_pa", "absolute_pressure_pa", "expanded_uncertainty_pa", "head_mm"} {
			if v, there := out[key]; there {
				t.Errorf("%s: got %s = %v, want no such key", b.name, key, v)
			}
		}
		isGood(next(2*i + 3))
	}
	if _, err := rows.Next(); !errors.Is(err, io.EOF) || rows.Count() != 2*len(bad)+1 {
		t.Errorf("got %v after %d rows, want the end after %d", err, rows.Count(), 2*len(bad)+1)
	}
}

// A quote that nothing closes takes the rest of the file with it: that is one refused row, and never a pressure.
func TestUnclosedQuoteGivesNoPressure(t *testing.T) {
	rows, err := NewReader(strings.NewReader("instrument,low_mm,temperature_c\nhood,110,20\nhood,\"110,20\nhood,120,20\n"), shelfConverters(t))
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for {
		row, err := rows.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		got = append(got, row.Result.Status.String())
	}
	if strings.Join(got, " ") != "good bad" {
		t.Errorf("got %v, want the first good and then one bad", got)
	}
}

// A file whose header is not known in full is refused as a whole.
func TestHeadersAreRefusedAsAWhole(t *testing.T) {
	for name, c := range map[string]struct{ csv, says string }{
		"unknown column":   {"instrument,low_mm,temp_c\nhood,110,20\n", `"temp_c"`},
		"duplicate column": {"instrument,low_mm,low_mm,temperature_c\nhood,110,110,20\n", "twice"},
		"empty file":       {"", "empty"},
		"blank lines only": {"\n\n", "empty"},
		"no header":        {"hood,110,20\n", `"hood"`},
		"no instrument":    {"low_mm,temperature_c\n110,20\n", "instrument"},
		"quotes broken":    {"instrument,\"low_mm\nhood,110\n", "header"},
		"semicolons":       {"instrument;low_mm\nhood;110\n", "instrument;low_mm"},
	} {
		if _, err := NewReader(strings.NewReader(c.csv), shelfConverters(t)); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: got %v, want an error that says %q", name, err, c.says)
		}
	}
}

// A tilt since the zero moves the zero by a distance that only zero_distance_mm tells.
func TestTiltSinceTheZeroIsRefused(t *testing.T) {
	rows, err := NewReader(strings.NewReader("instrument,low_mm,temperature_c,tilt_deg\nhood,110,20,0\nhood,110,20,2\nhood,110,20,90\nhood,110,20,NaN\n"), shelfConverters(t))
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []string{"", "zero_distance_mm", "tilt", "tilt"} {
		row, err := rows.Next()
		if err != nil {
			t.Fatal(err)
		}
		why := row.Result.Refusal
		if (why == nil) != (want == "") || why != nil && !strings.Contains(why.Error(), want) {
			t.Errorf("row %d: got %v, want a refusal that says %q", i+1, why, want)
		}
	}
}
