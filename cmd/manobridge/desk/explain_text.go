package desk

import (
	"fmt"
	"math"
	"strings"

	"manobridge/cmd/manobridge/layout"
	"manobridge/convert/uncertainty"
)

// String gives the explanation as text.
func (x Explanation) String() string {
	var b strings.Builder
	b.WriteString(x.Title + "\n")
	b.WriteString(layout.Labelled("equation", x.Equation))
	b.WriteString(x.Conditions.String())
	b.WriteString("\n" + layout.Wrap("", "", "The walk goes from the tap of the high limb to the tap of the low limb. Each column adds density × gravity × (to − from) "+
		"to p(high) − p(low): + where the walk climbs, − where it goes down. Heights are vertical."))
	fmt.Fprintf(&b, "\nNow, liquid at %.2f °C\n", x.Now.TemperatureC)
	b.WriteString(x.Now.String())
	if x.Zero != nil {
		fmt.Fprintf(&b, "\nAt the zero, liquid at %.2f °C; this is subtracted\n", x.Zero.TemperatureC)
		b.WriteString(x.Zero.String())
	}
	b.WriteString("\n" + x.result())
	b.WriteString(layout.List("Assumed", x.Assumptions))
	b.WriteString(layout.List("Cautions", x.Cautions))
	return b.String()
}

// String gives the conditions, each with its origin.
func (c Conditions) String() string {
	s := layout.Labelled("liquid", fmt.Sprintf("%.2f °C (%s)", c.LiquidC, c.LiquidFrom))
	s += layout.Labelled("air", fmt.Sprintf("%.2f °C, %.2f hPa, %.1f %% relative humidity (%s): %.5f kg/m³ by CIPM-2007", c.AmbientC, c.PressureHPa, c.HumidityPct, c.AmbientFrom, c.AirKgM3))
	if c.LinePressure {
		s += layout.Labelled("", "The gas in the legs is at the line pressure of the configuration instead.")
	}
	s += layout.Labelled("gravity", fmt.Sprintf("%.6f m/s², u = %.2g m/s² (%s)", c.GravityMS2, c.GravityUMS2, c.GravityFrom))
	if c.TiltDeg != 0 {
		s += layout.Labelled("tilt", fmt.Sprintf("%.3f° of the base, far end up", c.TiltDeg))
	}
	return s
}

// String gives the table of one walk with its sums.
func (w Walk) String() string {
	var t layout.Table
	t.Head("fluid", "density", "from", "to", "sign", "column")
	t.Head("", "kg/m³", "mm", "mm", "", "Pa")
	for _, c := range w.Columns {
		t.Row(c.Fluid, fmt.Sprintf("%.5f", c.DensityKgM3), fmt.Sprintf("%.4f", c.FromMM), fmt.Sprintf("%.4f", c.ToMM), c.Sign, fmt.Sprintf("%.4f", math.Abs(c.ContributionPa)))
	}
	for _, j := range w.Jumps {
		t.Row("meniscus, "+j.Limb+" limb", "", "", "", j.Sign, fmt.Sprintf("%.4f", math.Abs(j.ContributionPa)))
	}
	for _, sum := range []struct {
		name  string
		value float64
	}{{"sum of the walk", w.SumPa}, {"closed form", w.ClosedPa}} {
		t.Row(sum.name, "", "", "", sign(sum.value), fmt.Sprintf("%.4f", math.Abs(sum.value)))
	}
	// Rounding grows with the columns that nearly cancel, not with their sum.
	rounding := 1e-12 * math.Max(w.largest, 1)
	if math.Abs(w.DifferencePa) <= rounding {
		t.Row("difference", "", "", "", "", "< 1e-9")
	} else {
		t.Row("difference", "", "", "", sign(w.DifferencePa), fmt.Sprintf("%.2g", math.Abs(w.DifferencePa)))
	}
	return t.String()
}

// result is the last line of a hand calculation.
func (x Explanation) result() string {
	name, p := "p(high) − p(low)", 0.0
	switch {
	case x.AbsolutePa != nil:
		name, p = "p(high), absolute", *x.AbsolutePa
	case x.DifferentialPa != nil:
		p = *x.DifferentialPa
	}
	s := layout.Wrap("Result: ", "  ", name+" = "+uncertainty.Statement(p, x.ExpandedUPa, x.CoverageFactor, "Pa"))
	exact := fmt.Sprintf("%.4f Pa before rounding", p)
	if x.Zero != nil {
		exact += fmt.Sprintf(": %.4f Pa now, less %.4f Pa at the zero", x.Now.SumPa, x.Zero.SumPa)
	}
	if x.VapourPa != nil {
		exact += fmt.Sprintf(", with %.4f Pa of vapour over the closed surface", *x.VapourPa)
	}
	s += layout.Wrap("  ", "  ", exact+".")
	if x.HeadMM != nil {
		s += fmt.Sprintf("  Head %.4f mm: the low meniscus over the high one, zero corrected.\n", *x.HeadMM)
	}
	if len(x.Causes) > 0 {
		s += layout.Wrap("  ", "  ", "Status "+x.Status+": "+strings.Join(x.Causes, ", ")+".")
	}
	return s
}
