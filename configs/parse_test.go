package configs

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// minimal is a file with nothing that can be left out.
const minimal = `site: north-annex
location: {latitude_deg: 47.37, height_m: 408}
ambient: {temperature_c: 21.0, pressure_hpa: 962.0, relative_humidity_pct: 40}
ports:
  rack-a: {device: /dev/ttyUSB0, baud: 9600, frame: {format: delimited, fields: [low_mm, temperature_c]}}
instruments:
  hepa-bank-2:
    port: rack-a
    liquid: water
    geometry: {kind: inclined-reservoir, slope_deg: 11.54, bore_mm: 4.0, reservoir_bore_mm: 40.0, scale_mm: [0, 300]}
    zero: {low_mm: 10.2, temperature_c: 20.4}
`

func parsed(t *testing.T, text string) *Config {
	t.Helper()
	c, err := Parse("bench", []byte(text), testOptions())
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func refused(t *testing.T, text string) *Problems {
	t.Helper()
	_, err := Parse("bench", []byte(text), testOptions())
	var p *Problems
	if !errors.As(err, &p) {
		t.Fatalf("got %v, want problems with\n%s", err, text)
	}
	return p
}

// changed gives the minimal file with one text in place of another.
func changed(t *testing.T, old, new string) string {
	t.Helper()
	if !strings.Contains(minimal, old) {
		t.Fatalf("the minimal file has no %q", old)
	}
	return strings.Replace(minimal, old, new, 1)
}

// TestDefaults lists every default a file that states nothing optional gets.
func TestDefaults(t *testing.T) {
	c := parsed(t, minimal+"publish: {mqtt: {url: \"tcp://127.0.0.1:1883\"}}\n")
	p, m := c.Ports[0], c.Publish.MQTT
	for _, d := range []struct {
		what      string
		got, want any
	}{
		{"bridge", c.Bridge, "rack-pc"}, // of Rack-PC.lab.example
		{"data_bits", p.DataBits, 8},
		{"parity", p.Parity, "none"},
		{"stop_bits", p.StopBits, 1},
		{"silence", p.Silence.Std(), 10 * time.Second},
		{"reopen.first", p.Reopen.First.Std(), time.Second},
		{"reopen.longest", p.Reopen.Longest.Std(), 30 * time.Second},
		{"separator", p.Frame.Separator, ","},
		{"decimal", p.Frame.Decimal, "."},
		{"terminator", p.Frame.Terminator, "any"},
		{"max_gap", p.Frame.MaxGap.Std(), 2 * time.Second},
		{"temperature.from", c.Instruments[0].Temperature.From, "frame"},
		{"max_age", c.Instruments[0].Temperature.MaxAge.Std(), time.Minute},
		{"prefix", m.Prefix, "manobridge"},
		{"client_id", m.ClientID, "manobridge-north-annex-rack-pc"},
		{"live_within", m.LiveWithin.Std(), 5 * time.Second},
		{"backlog_per_s", m.BacklogPerS, 200.0},
		{"journal.path", c.Journal.Path, "manobridge.db"},
		{"journal.durability", c.Journal.Durability, "strict"},
		{"drain", c.Run.Drain.Std(), 10 * time.Second},
	} {
		if d.got != d.want {
			t.Errorf("%s: got %v, want %v", d.what, d.got, d.want)
		}
	}
}

// TestStatedZeroIsNotLeftOut tells a written 0 from a key left out.
func TestStatedZeroIsNotLeftOut(t *testing.T) {
	c := parsed(t, minimal+"    uncertainty: {position_mm: 0}\n")
	u := c.Instruments[0].Uncertainty
	if u.PositionMM == nil || *u.PositionMM != 0 {
		t.Errorf("position_mm: got %v, want a stated 0", u.PositionMM)
	}
	if u.ZeroMM != nil {
		t.Errorf("zero_mm: got %v, want it not stated", *u.ZeroMM)
	}
}

// TestTextIsKept wants every character of an address or a serial number back.
func TestTextIsKept(t *testing.T) {
	for _, text := range []string{"0012345", "0x1F", "1.50", "1e3", "~", "no", "2026-03-01", "é2", " 2"} {
		c := parsed(t, changed(t, "device: /dev/ttyUSB0", `usb: {vendor: "0403", product: "6001", serial: "`+text+`"}`))
		if got := c.Ports[0].USB.Serial; got != text {
			t.Errorf("got %q, want %q", got, text)
		}
	}
}

// TestNumbers takes what is plainly a decimal number and refuses what one YAML reader or another takes for one.
func TestNumbers(t *testing.T) {
	for text, want := range map[string]float64{"11": 11, "11.0": 11, "1.1e1": 11, "+11": 11, ".5": 0.5, "11.": 11, "5E-1": 0.5} {
		c := parsed(t, changed(t, "slope_deg: 11.54", "slope_deg: "+text))
		if got := *c.Instruments[0].Geometry.SlopeDeg; got != want {
			t.Errorf("%s: got %v, want %v", text, got, want)
		}
	}
	for text, hint := range map[string]string{
		"011": "write 11", "0o13": "decimal number", "0xB": "decimal number", "0b11": "decimal number", "1_1": "without _",
		`"11"`: "quotes away", "11deg": "number alone", "11 °": "number alone", ".nan": "finite", ".inf": "finite",
		"-.Inf": "finite", "yes": "is not a number", "true": "is not a number", "~": "has no value", "null": "has no value",
		"−11": "minus sign", "1:30": "is not a number", "--11": "is not a number", "1e999": "too large", ".": "is not a number",
		"!!float 11": "tags are not read", "&a 11": "anchors are not read", "[11]": "one value is needed",
	} {
		got := refused(t, changed(t, "slope_deg: 11.54, ", "slope_deg: "+text+", ")).Error()
		if !strings.Contains(got, hint) {
			t.Errorf("%s: got %s, want %q in it", text, got, hint)
		}
	}
}

// TestEveryProblemHasItsLine wants each problem at the line of its key.
func TestEveryProblemHasItsLine(t *testing.T) {
	p := refused(t, changed(t, "baud: 9600", "baud: fast")+"    range_pa: [400, 0]\n")
	if len(p.List) != 2 {
		t.Fatalf("got %v, want two problems", p)
	}
	for i, want := range []Problem{
		{Line: 5, Key: "ports.rack-a.baud", Seen: `"fast"`},
		{Line: 12, Key: "instruments.hepa-bank-2.range_pa", Seen: "[400, 0]"},
	} {
		got := p.List[i]
		if got.Line != want.Line || got.Key != want.Key || got.Seen != want.Seen {
			t.Errorf("got %+v, want line %d, key %s, seen %s", got, want.Line, want.Key, want.Seen)
		}
	}
}

// TestProblemsAreBounded wants a hopeless file named as such, not listed without end.
func TestProblemsAreBounded(t *testing.T) {
	p := refused(t, minimal+strings.Repeat("stie: x\n", 1)+manyUnknownKeys(500))
	if len(p.List) != mostProblems || p.More != 401 {
		t.Errorf("got %d problems and %d more, want %d and 401", len(p.List), p.More, mostProblems)
	}
	if !strings.HasPrefix(p.Error(), "bench: 501 problems, nothing started\n") || !strings.HasSuffix(p.Error(), "and 401 more") {
		t.Errorf("got %s", p.Error())
	}
}

func manyUnknownKeys(n int) string {
	var b strings.Builder
	for i := range n {
		b.WriteString("unheard-of-" + strings.Repeat("x", i+1) + ": 1\n")
	}
	return b.String()
}

// TestConditionsStandInEitherPlace reads them beside geometry and within it to the same effect.
func TestConditionsStandInEitherPlace(t *testing.T) {
	within := parsed(t, changed(t, "scale_mm: [0, 300]}", "scale_mm: [0, 300], tilt_deg: 0.1, meniscus: bottom}"))
	beside := parsed(t, minimal+"    tilt_deg: 0.1\n    meniscus: bottom\n")
	a, errA := within.Canonical("hepa-bank-2")
	b, errB := beside.Canonical("hepa-bank-2")
	if errA != nil || errB != nil || string(a) != string(b) {
		t.Errorf("got %s (%v) and %s (%v), want the same", a, errA, b, errB)
	}
	if in := within.Instruments[0]; in.TiltDeg == nil || *in.TiltDeg != 0.1 || in.Meniscus != "bottom" {
		t.Errorf("got %+v, want what the geometry states", in.Conditions)
	}
}

func TestNameFrom(t *testing.T) {
	for host, want := range map[string]string{
		"rack-pc": "rack-pc", "Rack-PC.lab.example": "rack-pc", "lab_3": "lab-3", "-x-": "x", "": "", "...": "", "Бур": "",
		strings.Repeat("a", 80): strings.Repeat("a", 63),
	} {
		got := NameFrom(host)
		if got != want {
			t.Errorf("%q: got %q, want %q", host, got, want)
		}
		if got != "" && nameFault(got) != nil {
			t.Errorf("%q: got %q, which is not a legal name", host, got)
		}
	}
	o := testOptions()
	o.HostName = "..."
	if _, err := Parse("bench", []byte(minimal), o); err == nil || !strings.Contains(err.Error(), "bridge: needed") {
		t.Errorf("got %v, want bridge to be asked for", err)
	}
}

func TestLoadWithoutFile(t *testing.T) {
	_, err := Load(filepath.Join(t.TempDir(), "bench.yaml"), Options{})
	if !errors.Is(err, os.ErrNotExist) {
		t.Errorf("got %v, want that there is no file", err)
	}
}

// TestLargeFile refuses a file that is no configuration before it is parsed.
func TestLargeFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bench.yaml")
	write(t, path, minimal+strings.Repeat("# filling\n", largestFile/10))
	_, err := Load(path, testOptions())
	if err == nil || !strings.Contains(err.Error(), "larger than 1 MiB") {
		t.Errorf("got %v, want it refused for its size", err)
	}
}

// TestRemarks says what is legal and looks wrong.
func TestRemarks(t *testing.T) {
	text := changed(t, "height_m: 408", "height_m: 1650")
	text = strings.Replace(text, "pressure_hpa: 962.0, relative_humidity_pct: 40", "pressure_hpa: 1013, relative_humidity_pct: 0.4", 1)
	text = strings.Replace(text, "slope_deg: 11.54", "slope_deg: 2", 1)
	c := parsed(t, text)
	for _, want := range []string{"not reduced to sea level", "not a fraction of 1", "below 5°", "taken not to expand"} {
		found := false
		for _, r := range c.Remarks {
			found = found || strings.Contains(r.String(), want)
		}
		if !found {
			t.Errorf("got %v, want a remark with %q", c.Remarks, want)
		}
	}
}

// TestRegisterNumberOfTheManual wants a number that is legal on the line, and likely the manual's, looked at: 40003 in a
// manual is the third holding register, 2 on the line (Modbus Application Protocol V1.1b3, 4.4: registers from 1, on the
// line from 0; the leading 4 is common practice).
func TestRegisterNumberOfTheManual(t *testing.T) {
	text := strings.Replace(minimal, "frame: {format: delimited, fields: [low_mm, temperature_c]}",
		"ask: {protocol: modbus-rtu, registers: {low_mm: {at: 40003, type: int16}, temperature_c: {table: input, at: 2, type: int16}}}", 1)
	text = strings.Replace(text, "port: rack-a", "port: rack-a\n    address: \"5\"", 1)
	n := 0
	for _, r := range parsed(t, text).Remarks {
		if strings.Contains(r.String(), "low_mm.at: 40003 is the number on the line") && strings.HasSuffix(r.String(), "write at: 2") {
			n++
		}
	}
	if n != 1 {
		t.Errorf("got %d remarks on 40003, want one", n)
	}
}

// TestProblemOfAnotherPackage gives what others find wrong the line of its key.
func TestProblemOfAnotherPackage(t *testing.T) {
	got := parsed(t, minimal).Problem("instruments.hepa-bank-2.geometry.slope_deg", "is too flat for water", "use oil").String()
	const want = "line 10: instruments.hepa-bank-2.geometry.slope_deg: is too flat for water; use oil"
	if got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}
