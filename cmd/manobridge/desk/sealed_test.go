package desk

import (
	"strings"
	"testing"
)

// A barometer starts from the room and gives an absolute pressure; 100 Pa are 100 / (13545.859 × 9.80715) = 0.752750 mm of
// mercury, of which the cistern of (8/60)² = 1/56.25 takes 1/57.25: 0.739601 mm on the scale.
func TestBarometer(t *testing.T) {
	b := bench(t, "weather")
	p, err := b.Predict(Aim{ByPa: ptr(100), TemperatureC: ptr(20)})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "from", p.FromPa, 101325, 0, "ambient of the configuration")
	near(t, "movement", p.Low.AlongMM, 0.739601, 1e-6, "by hand")
	x, err := b.Explain(Given{LowMM: p.Low.ToMM, TemperatureC: ptr(20)})
	if err != nil {
		t.Fatal(err)
	}
	if x.AbsolutePa == nil || x.DifferentialPa != nil {
		t.Fatalf("got %+v, want an absolute pressure", x)
	}
	near(t, "read back", *x.AbsolutePa, 101425, 1e-6, "the inverse of the inverse")
	near(t, "vapour", *x.VapourPa, 0.17, 0.01, "vapour of mercury at 20 °C, two digits (Huber et al., NISTIR 6643)")
	near(t, "walk and vapour", x.Now.SumPa+*x.VapourPa, *x.AbsolutePa, 1e-6, "what the pressure is made of")
	budget, err := b.Budget(At{Pa: ptr(101325)})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "vapour in the budget", line(t, &budget, "pressure over the closed surface").Value, 0.17, 0.01, "the same")
	if c := strings.Join(x.Cautions, " "); !strings.Contains(c, "Mercury") {
		t.Errorf("got the cautions %q, want that of mercury", c)
	}
}

func TestBarometerText(t *testing.T) {
	x, err := bench(t, "weather").Explain(Given{LowMM: ptr(758), TemperatureC: ptr(22)})
	if err != nil {
		t.Fatal(err)
	}
	golden(t, "explain-weather", x.String())
	unitsInKeys(t, x)
}
