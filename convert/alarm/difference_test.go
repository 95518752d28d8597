package alarm

import (
	"math"
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/convert/fluid"
	"manobridge/convert/geometry"
	"manobridge/convert/gravity"
	"manobridge/convert/quantity"
)

// uTube is an instrument whose pressure is (ρ − ρ_gas) g (z_low − z_high), so that a difference can be worked by hand.
func uTube(t testing.TB, name string) *convert.Converter {
	t.Helper()
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	oil, err := fluid.NewLiquid(fluid.LiquidOptions{Name: "bench oil", Density: quantity.KilogramsPerCubicMetre(900), DensityU: fluid.Stated(9),
		Reference: quantity.Celsius(20), Expansion: quantity.PerKelvin(0), ExpansionU: fluid.Stated(0)})
	must(err)
	gas, err := fluid.NewLiquid(fluid.LiquidOptions{Name: "no gas", Density: quantity.KilogramsPerCubicMetre(500), DensityU: fluid.Stated(0),
		Reference: quantity.Celsius(20), Expansion: quantity.PerKelvin(0), ExpansionU: fluid.Stated(0)})
	must(err)
	g, err := gravity.Measured(quantity.MetresPerSecondSquared(9.8), 0)
	must(err)
	limb := convert.LimbUncertainties{Position: convert.Stated[quantity.Length]{U: quantity.Millimetres(0.1)}}
	c, err := convert.New(convert.Options{
		Instrument: name, Config: "test", Liquid: oil, HighOver: convert.Leg{Fluid: gas}, LowOver: convert.Leg{Fluid: gas}, Gravity: g,
		Shape: geometry.UTube(0.005, 0.005, 0.7, 0.7, true, true), HighScale: convert.Span{Low: 0, High: 0.6}, LowScale: convert.Span{Low: 0, High: 0.6},
		Ambient:     convert.Ambient{Temperature: quantity.Celsius(20)},
		Temperature: convert.TemperatureRule{Live: true}, Zero: &convert.Zero{High: 0.3, Low: 0.3, Temperature: quantity.Celsius(20)},
		U: convert.Uncertainties{High: limb, Low: limb},
	})
	must(err)
	return c
}

func result(c *convert.Converter, name string, at time.Duration, highMM, lowMM float64) *convert.Result {
	r := c.Convert(convert.Reading{Name: convert.Name{Run: "r", Instrument: name, Seq: 1}, SinceStart: at,
		High: convert.Some(quantity.Millimetres(highMM)), Low: convert.Some(quantity.Millimetres(lowMM)), Temperature: convert.Some(quantity.Celsius(20))})
	return &r
}

func TestDifferenceCountsWhatIsSharedOnce(t *testing.T) {
	room, corridor := uTube(t, "room"), uTube(t, "corridor")
	d, err := NewDifference("room", "corridor", room, corridor, 2*time.Second)
	if err != nil {
		t.Fatal(err)
	}
	if _, ok := d.Add(result(room, "room", 0, 200, 400)); ok {
		t.Fatal("one instrument alone gave a difference")
	}
	v, ok := d.Add(result(corridor, "corridor", time.Second, 205, 395))
	if !ok || !v.Known() {
		t.Fatalf("got no difference of two readings 1 s apart: %+v", v)
	}
	// By hand: (900 − 500) · 9.8 · (200 − 190) mm = 39.2 Pa. Positions: four of 0.1 mm, 3920 Pa/m each, so
	// 2 · 0.392 = 0.784 Pa. The oil is one input of both: 9 kg/m³ · 9.8 · 10 mm = 0.882 Pa, not 9 · 9.8 · √(200² + 190²) mm.
	wantU := 2 * math.Hypot(0.784, 0.882)
	if math.Abs(v.V-39.2) > 1e-9 || math.Abs(v.U/wantU-1) > 1e-9 {
		t.Errorf("got %g ± %g Pa, want 39.2 ± %g (worked by hand)", v.V, v.U, wantU)
	}
}

func TestDifferencePairing(t *testing.T) {
	room, corridor := uTube(t, "room"), uTube(t, "corridor")
	d, err := NewDifference("room", "corridor", room, corridor, 2*time.Second)
	if err != nil {
		t.Fatal(err)
	}
	d.Add(result(room, "room", 0, 200, 400))
	if _, ok := d.Add(result(corridor, "corridor", 3*time.Second, 205, 395)); ok {
		t.Error("readings 3 s apart were paired within 2 s")
	}
	if v, ok := d.Add(result(room, "room", 4*time.Second, 200, 400)); !ok || v.At != 4*time.Second {
		t.Errorf("got %+v, %v, want the later of the two times", v, ok)
	}
	if d.Overdue(5*time.Second) || !d.Overdue(5*time.Second+1) {
		t.Error("want the pair overdue once the older reading, of 3 s, is more than 2 s old")
	}
	// A reading that is off its scale makes the difference unknown at once, and needs a new pair.
	if v, ok := d.Add(result(room, "room", 5*time.Second, 200, 700)); !ok || v.Known() || v.Why == "" {
		t.Errorf("got %+v, %v, want an unknown difference with the reason", v, ok)
	}
	if _, ok := d.Add(result(corridor, "corridor", 5*time.Second, 205, 395)); ok {
		t.Error("a bad reading was paired")
	}
	if _, ok := d.Add(result(room, "somebody else", 5*time.Second, 200, 400)); ok {
		t.Error("the reading of a third instrument was taken")
	}
	if _, err := NewDifference("room", "room", room, room, time.Second); err == nil {
		t.Error("a difference of an instrument and itself was taken")
	}
}
