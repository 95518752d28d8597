package secondway

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// table reads numeric columns of a CSV of the hand-worked cases, by name.
func table(t *testing.T, kind, file string, columns ...string) [][]float64 {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "..", "testdata", "convert", kind, file))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out [][]float64
	for _, row := range rows[1:] {
		var v []float64
		for _, name := range columns {
			for i, head := range rows[0] {
				if head == name {
					x, err := strconv.ParseFloat(row[i], 64)
					if err != nil {
						t.Fatal(err)
					}
					v = append(v, x)
				}
			}
		}
		if len(v) != len(columns) {
			t.Fatalf("%s/%s: got %d of the columns %v", kind, file, len(v), columns)
		}
		out = append(out, v)
	}
	return out
}

// airUTube is the density of the air over the u-tube in kg/m³, CIPM-2007, from its NOTE.
const airUTube = 1.1219749

const celsius = 273.15

// The cases of testdata/convert were worked from written formulas, positions to pressure. Here the pressures they
// arrived at are given to the forward walk, which must put the menisci where the readings have them. 1e-9 m is the place of
// the pressure's last written digit and of the air density's seventh.
func TestHandWorkedInclinedReservoir(t *testing.T) {
	air := []float64{1.1914597, 1.1914597, 1.1914597, 1.1914597, 1.1914597, 1.1914597, 1.1577217, 1.2090998} // kg/m³, CIPM-2007, from the NOTE
	want := table(t, "inclined-reservoir", "readings.csv", "low_mm", "temperature_c")
	for i, w := range table(t, "inclined-reservoir", "want.csv", "differential_pressure_pa", "head_mm") {
		gas := Leg{Fluid: Liquid{Density: air[i]}}
		d := InclinedReservoirDesc{
			Setting: Setting{G: 9.81184, T: want[i][1] + celsius, ZeroT: 21 + celsius},
			Liquid:  Liquid{Density: 812, Reference: 20 + celsius, Expansion: 0.00088},
			Slope:   degrees(8), Bore: 0.0035, ReservoirBore: 0.05, Rest: 0.0124, High: gas, Low: gas,
		}
		p := must(t)(InclinedReservoir(d, w[0]))
		near(t, "position", p.Low, want[i][0]/1000, 1e-9, d)
		near(t, "head", p.Head, w[1]/1000, 1e-9, d)
	}
}

func TestHandWorkedLimbPair(t *testing.T) {
	oil, water := Liquid{830, 20 + celsius, 0.00085}, Liquid{998.2, 20 + celsius, 0.00021}
	want := table(t, "limb-pair-one-position", "readings.csv", "low_mm", "temperature_c")
	for i, w := range table(t, "limb-pair-one-position", "want.csv", "differential_pressure_pa", "head_mm") {
		d := LimbPairDesc{
			Setting: Setting{G: 9.80715, T: want[i][1] + celsius, ZeroT: 20 + celsius}, TieT: 20 + celsius,
			Liquid: Liquid{1590, 20 + celsius, 0.00059},
			High:   ArmDesc{Slope: upright, Bore: 0.008, Over: Leg{water, 0.52}, Tie: 0.23},
			Low:    ArmDesc{Slope: degrees(25), Bore: 0.005, ZeroHeight: 0.02, Over: Leg{oil, 0.6}, Tie: 0.33},
		}
		p := must(t)(LimbPair(d, w[0]))
		near(t, "position", p.Low, want[i][0]/1000, 1e-11, d)
		near(t, "head", p.Head, w[1]/1000, 1e-11, d)
	}
}

// Of two read menisci only the distance is the pressure's; the filling is chosen to put the high one where it was read.
func TestHandWorkedUTube(t *testing.T) {
	const growth = 2.3e-5
	gas := Leg{Fluid: Liquid{Density: airUTube}}
	want := table(t, "u-tube", "readings.csv", "high_mm", "low_mm", "temperature_c")
	zero := 9.80604 * (1048/(1-0.00031*0.5) - airUTube) * -0.0005 * (1 - growth*0.5) // the zero reading's own pressure
	for i, w := range table(t, "u-tube", "want.csv", "differential_pressure_pa") {
		grown := 1 + growth*(want[i][2]-20)
		a, b := circle(0.008), circle(0.0074)
		d := UTubeDesc{
			Setting: Setting{G: 9.80604, T: want[i][2] + celsius, ZeroT: 19.5 + celsius, Scale: Scale{growth, 20 + celsius}},
			Liquid:  Liquid{1048, 20 + celsius, 0.00031}, HighBore: 0.008, LowBore: 0.0074,
			Rest: grown * (a*want[i][0] + b*want[i][1]) / (a + b) / 1000, High: gas, Low: gas,
		}
		p := must(t)(UTube(d, w[0]+zero))
		near(t, "high", p.High, want[i][0]/1000, 1e-11, d)
		near(t, "low", p.Low, want[i][1]/1000, 1e-11, d)
	}
	if math.Abs(zero) > 6 {
		t.Errorf("got a zero of %v Pa, want half a millimetre of liquid", zero)
	}
}
