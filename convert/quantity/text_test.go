package quantity

import (
	"encoding/csv"
	"math"
	"math/big"
	"os"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// The table is read here and not with package tabletest: nothing of the project may be imported by its leaf.
func TestPressureUnitsAgainstTable(t *testing.T) {
	f, err := os.Open("testdata/pressure_units.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) != 39 {
		t.Fatalf("got %d lines, %v, want a header and 38 units", len(rows), err)
	}
	const unitColumn, pascals, exact, tolerance, source = 0, 2, 3, 4, 5
	if h := rows[0]; h[unitColumn] != "unit" || h[pascals] != "pascal_per_unit" || h[source] != "source" {
		t.Fatalf("got the header %q", h)
	}
	for i, r := range rows[1:] {
		symbol, _, _ := strings.Cut(r[unitColumn], " ")
		want, err := strconv.ParseFloat(r[pascals], 64)
		if err != nil {
			t.Fatalf("line %d: %v", i+2, err)
		}
		tol := 1e-12 // digits printed in the table
		if r[exact] != "yes" {
			if tol, err = strconv.ParseFloat(r[tolerance], 64); err != nil {
				t.Fatalf("line %d: %v", i+2, err)
			}
		}
		w, err := PressureKind.Parse("1 " + symbol)
		if err != nil || math.Abs(w.SI-want) > tol*want {
			t.Errorf("line %d: 1 %s: got %v Pa, %v, want %v ± %.1g (%s)", i+2, symbol, w.SI, err, want, tol*want, r[source])
		}
	}
}

// The exact ones against their definitions, worked out in whole numbers.
func TestExactUnits(t *testing.T) {
	for symbol, want := range map[string]string{
		"mmHg":    "13.5951 9.80665",
		"inHg":    "13.5951 9.80665 25.4",
		"ftHg":    "13.5951 9.80665 304.8",
		"inH2O":   "9.80665 25.4",
		"ftH2O":   "9.80665 304.8",
		"kgf/m²":  "9.80665",
		"kgf/cm²": "9.80665 10000",
	} {
		product := big.NewRat(1, 1)
		for _, factor := range strings.Fields(want) {
			product.Mul(product, rational(factor))
		}
		u, err := PressureKind.find(symbol)
		if err != nil || rational(u.scale).Cmp(product) != 0 {
			t.Errorf("%s: got %s, %v, want %s (definition)", symbol, u.scale, err, want)
		}
	}
	pound := rational("0.45359237")
	inch2 := rational("0.00064516")
	psi := new(big.Rat).Mul(pound, rational("9.80665"))
	psi.Quo(psi, inch2)
	for symbol, share := range map[string]int64{"psi": 1, "psf": 144, "ozf/in²": 16} {
		want := new(big.Rat).Quo(psi, big.NewRat(share, 1))
		if u, _ := PressureKind.find(symbol); rational(u.scale).Cmp(want) != 0 {
			t.Errorf("%s: got %s, want %s (definition)", symbol, u.scale, want)
		}
	}
}

func TestTorrIsNotTheMillimetreOfMercury(t *testing.T) {
	torr, _ := PressureKind.Parse("1 torr")
	mmHg, _ := PressureKind.Parse("1 mmHg")
	// Source: definitions, 101325/760 Pa and 13.5951 · 9.80665 Pa.
	if got := mmHg.SI/torr.SI - 1; math.Abs(got-1.4247e-7) > 1e-11 {
		t.Errorf("got a difference of %v, want 1.4247e-7", got)
	}
}

func TestUnqualifiedColumnsSaySo(t *testing.T) {
	for text, want := range map[string]string{
		"1 inH2O": "inH2O without a temperature is taken as that of conventional water, 1000 kg/m³ under 9.80665 m/s²: 249.08891 Pa",
		"1 mmHg":  "mmHg without a temperature is taken as that of conventional mercury, 13595.1 kg/m³ under 9.80665 m/s²: 133.322387415 Pa",
		"1 inWC":  "inH2O without a temperature is taken as that of conventional water, 1000 kg/m³ under 9.80665 m/s²: 249.08891 Pa",

		"1 inH2O_4C": "", "1 inH2O_60F": "", "1 inH2O (60 °F)": "", "1 inH2O_68F": "", "1 mmHg_0C": "", "1 torr": "", "1 Pa": "",
	} {
		w, err := PressureKind.Parse(text)
		if err != nil || w.Assumption != want {
			t.Errorf("%s: got %q, %v, want %q", text, w.Assumption, err, want)
		}
	}
	for _, k := range []Kind{PressureKind} {
		for _, u := range k.units() {
			column := strings.Contains(u.symbol, "Hg") || strings.Contains(u.symbol, "H2O")
			if named := strings.Contains(u.symbol, "_"); column && named == (u.assumed != "") {
				t.Errorf("%s: got the assumption %q", u.symbol, u.assumed)
			}
		}
	}
}

func TestParse(t *testing.T) {
	for _, tc := range []struct {
		kind Kind
		text string
		want float64
		unit string
	}{
		{PressureKind, "120 Pa", 120, "Pa"},
		{PressureKind, "  120Pa ", 120, "Pa"},
		{PressureKind, "-1.5e1 hPa", -1500, "hPa"},
		{PressureKind, "+.5 kPa", 500, "kPa"},
		{PressureKind, "\u22123\u00a0mbar", -300, "mbar"},
		{PressureKind, "1 kgf/cm2", 98066.5, "kgf/cm²"},
		{PressureKind, "0.5 in. H₂O", 124.544455, "inH2O"},
		{PressureKind, "1 inH2O @ 60 °F", 248.84, "inH2O_60F"},
		{LengthKind, "152.4 mm", 0.1524, "mm"},
		{LengthKind, "6 in", 0.1524, "in"},
		{LengthKind, "3 μm", 3e-6, "µm"},
		{TemperatureKind, "68 °F", 293.15, "°F"},
		{TemperatureKind, "20 °C", 293.15, "°C"},
		{TemperatureKind, "20C", 293.15, "°C"},
		{TemperatureKind, "-40 degF", 233.15, "°F"},
		{TemperatureDifferenceKind, "9 °F", 5, "°F"},
		{AngleKind, "30°", math.Pi / 6, "°"},
		{AngleKind, "30 deg", math.Pi / 6, "°"},
		{AngleKind, "1 mrad", 0.001, "mrad"},
		{DensityKind, "0.83 g/cm3", 830, "g/cm³"},
		{DensityKind, "62.42796 lb/ft3", 1000, "lb/ft³"}, // 1000 kg/m³, seven digits, handbook
		{AccelerationKind, "980.665 Gal", 9.80665, "Gal"},
		{SurfaceTensionKind, "72.74 mN/m", 0.07274, "mN/m"},
		{VolumeKind, "12 ml", 12e-6, "ml"},
	} {
		w, err := tc.kind.Parse(tc.text)
		tol := 1e-15
		if tc.unit == "lb/ft³" {
			tol = 1e-7
		}
		if err != nil || w.Unit != tc.unit || math.Abs(w.SI-tc.want) > tol*math.Abs(tc.want) {
			t.Errorf("%s %q: got %+v, %v, want %v in %s", tc.kind, tc.text, w, err, tc.want, tc.unit)
		}
	}
}

func TestTypedParsers(t *testing.T) {
	if v, err := ParseLength("25.4 mm"); err != nil || v != 0.0254 {
		t.Errorf("got %v, %v", v, err)
	}
	if v, err := ParseTemperature("0 °C"); err != nil || v != 273.15 {
		t.Errorf("got %v, %v", v, err)
	}
	if v, err := ParseAngle("180°"); err != nil || v != math.Pi {
		t.Errorf("got %v, %v", v, err)
	}
	if v, err := ParseDensity("1 g/ml"); err != nil || v != 1000 {
		t.Errorf("got %v, %v", v, err)
	}
	if w, err := ParseDifferentialPressure("-1 hPa"); err != nil || w.DifferentialPressure() != -100 {
		t.Errorf("got %+v, %v", w, err)
	}
	if w, err := ParseAbsolutePressure("1 atm"); err != nil || w.AbsolutePressure() != 101325 {
		t.Errorf("got %+v, %v", w, err)
	}
	if w, err := ParseAbsolutePressure("-1 hPa"); err == nil || w != (Written{}) {
		t.Errorf("got %+v for a pressure below vacuum, want a refusal", w)
	}
	if _, err := ParseLength("25.4 Pa"); err == nil {
		t.Error("a pressure was taken for a length")
	}
}

func TestParseRefusalsHelp(t *testing.T) {
	for text, want := range map[string]string{
		"120":                             `pressure "120" has no unit; accepted: Pa, hPa, kPa, MPa, bar, mbar, atm, at, kgf/cm²`,
		"120 ":                            "has no unit",
		"Pa":                              "does not begin with a number",
		"":                                "does not begin with a number",
		"12,5 Pa":                         "has a comma in its number; write a decimal point",
		"1,000 Pa":                        "has a comma in its number",
		"120 PA":                          `did you mean "Pa"?`,
		"1 mmhg":                          `did you mean "mmHg"?`,
		"1 furlong":                       "is not one of a pressure; accepted: Pa",
		"NaN Pa":                          "does not begin with a number",
		"inf Pa":                          "does not begin with a number",
		"0x10 Pa":                         `unit "x10 Pa" is not one`,
		"1_000 Pa":                        `unit "_000 Pa" is not one`,
		"1e999 Pa":                        "too large or too small",
		"1e-999999999999999999 Pa":        "too large or too small",
		"1e309 Pa":                        "too large or too small",
		"1e-350 Pa":                       "too large or too small",
		"1 \xff":                          "is not one of a pressure",
		"1 " + strings.Repeat("x", 600):   "longer than 512 bytes",
		strings.Repeat("1", 300) + "x Pa": "is not one of a pressure",
	} {
		w, err := PressureKind.Parse(text)
		if err == nil || !strings.Contains(err.Error(), want) || w != (Written{}) {
			t.Errorf("%q: got %+v, %v, want nothing and %q", text, w, err, want)
		}
	}
	if _, err := Kind(99).Parse("1 Pa"); err == nil {
		t.Error("a kind that is none was taken")
	}
	for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		if s, err := PressureKind.Format(bad, "Pa"); err == nil {
			t.Errorf("got %q for %v, want an error", s, bad)
		}
	}
	if s, err := PressureKind.Format(1, "mm"); err == nil {
		t.Errorf("got %q for a pressure in mm, want an error", s)
	}
}

func TestFormatIsShortest(t *testing.T) {
	for _, tc := range []struct {
		kind Kind
		si   float64
		unit string
		want string
	}{
		{PressureKind, 120, "Pa", "120 Pa"},
		{PressureKind, 124.544455, "inH2O", "0.5 inH2O"},
		{PressureKind, 101325, "torr", "760 torr"},
		{PressureKind, -0.1, "kPa", "-0.0001 kPa"},
		{PressureKind, 0, "mbar", "0 mbar"},
		{PressureKind, 1e30, "Pa", "1e+30 Pa"},
		{LengthKind, 0.1524, "mm", "152.4 mm"},
		{TemperatureKind, 293.15, "°C", "20 °C"},
		{TemperatureKind, 293.15, "°F", "68 °F"},
		{AngleKind, math.Pi / 6, "deg", "30 °"},
		{DensityKind, 830, "g/cm3", "0.83 g/cm³"},
	} {
		if got, err := tc.kind.Format(tc.si, tc.unit); err != nil || got != tc.want {
			t.Errorf("%v %v in %s: got %q, %v, want %q", tc.kind, tc.si, tc.unit, got, err, tc.want)
		}
	}
}

// roundTrip checks that parse(print(x)) = x in every unit of a kind.
func roundTrip(t testing.TB, k Kind, si float64) {
	t.Helper()
	for _, u := range k.units() {
		text, err := k.Format(si, u.symbol)
		if err != nil {
			t.Fatalf("%s %v in %s: %v", k, si, u.symbol, err)
		}
		w, err := k.Parse(text)
		if err != nil && si != 0 && (math.Abs(si) < 1e-290 || math.Abs(si) > 1e290) {
			continue // its number in this unit is beyond what float64 and Parse reach
		}
		if err != nil || w.SI != si || w.Unit != u.symbol {
			t.Fatalf("%s %v in %s: printed %q, read back %+v, %v", k, si, u.symbol, text, w, err)
		}
	}
}

func TestParsePrintRoundTrip(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		k := Kind(rapid.IntRange(0, len(kinds)-1).Draw(rt, "kind"))
		si := rapid.Float64Range(-1e7, 1e7).Draw(rt, "si")
		roundTrip(t, k, si)
	})
}

func FuzzParsePrintRoundTrip(f *testing.F) {
	for _, v := range []float64{0, 1, -1, math.Pi, 249.08891, 1e-300, 5e-324, math.MaxFloat64, 273.15, 1e-9, 0.1 + 0.2} {
		f.Add(uint8(0), v)
		f.Add(uint8(2), v)
		f.Add(uint8(4), v)
	}
	f.Fuzz(func(t *testing.T, kind uint8, si float64) {
		if math.IsNaN(si) || math.IsInf(si, 0) {
			return
		}
		roundTrip(t, Kind(int(kind)%len(kinds)), si)
	})
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"120 Pa", "1e400 Pa", "-.5e-3inH2O", "1", "Pa", "1,2 Pa", "1 inH2O (60 °F)", "\xff", "1e", "1e+ Pa", "٣ Pa"} {
		f.Add(uint8(0), s)
		f.Add(uint8(2), s)
	}
	f.Fuzz(func(t *testing.T, kind uint8, text string) {
		k := Kind(int(kind) % len(kinds))
		w, err := k.Parse(text)
		if err != nil {
			if w != (Written{}) || len(err.Error()) > 2000 {
				t.Errorf("%q: got %+v and an error of %d bytes", text, w, len(err.Error()))
			}
			return
		}
		if math.IsNaN(w.SI) || math.IsInf(w.SI, 0) {
			t.Errorf("%q: got %v", text, w.SI)
		}
		roundTrip(t, k, w.SI)
	})
}

func TestUnitTablesAreSound(t *testing.T) {
	for k := range kinds {
		seen := map[string]string{}
		for i, u := range Kind(k).units() {
			if rational(u.scale).Sign() <= 0 || (u.offset != "" && rational(u.offset).Sign() <= 0) {
				t.Errorf("%s: scale %q or offset %q is no number", u.symbol, u.scale, u.offset)
			}
			if i == 0 && (u.scale != "1" || u.offset != "") {
				t.Errorf("%s: the first unit of a %s is not the SI unit", u.symbol, Kind(k))
			}
			for _, name := range append(strings.Fields(u.aliases), plainSymbol(u.symbol)) {
				if plainSymbol(name) != name {
					t.Errorf("%s: the spelling %q is never looked for", u.symbol, name)
				}
				if other, twice := seen[name]; twice {
					t.Errorf("%s: %q also means %s", u.symbol, name, other)
				}
				seen[name] = u.symbol
			}
		}
	}
}
