package desk

import (
	"fmt"
	"math"
	"strings"

	"manobridge/cmd/manobridge/layout"
	"manobridge/convert/gravity"
	"manobridge/convert/quantity"
)

// Place is the local gravity of a place, beside the standard value.
type Place struct {
	LatitudeDeg float64 `json:"latitude_deg"`
	HeightM     float64 `json:"height_m"`
	GravityMS2  float64 `json:"gravity_m_s2"`
	UMS2        float64 `json:"gravity_u_m_s2"`
	Source      string  `json:"source"`

	StandardMS2   float64 `json:"standard_gravity_m_s2"`
	DifferencePPM float64 `json:"difference_from_standard_ppm"`
	WMOMS2        float64 `json:"wmo_theoretical_gravity_m_s2"`

	Assumptions []string `json:"assumptions"`
}

// Gravity works out the gravity of a place from its latitude in degrees and its height in metres.
func Gravity(latitudeDeg, heightM float64) (Place, error) {
	phi, h := quantity.Degrees(latitudeDeg), quantity.Metres(heightM)
	g, err := gravity.FromLatitude(phi, h)
	if err != nil {
		return Place{}, err
	}
	wmo, err := gravity.FromLatitudeWMO(phi, h, h)
	if err != nil {
		return Place{}, err
	}
	v := float64(g.Value)
	return Place{
		LatitudeDeg: latitudeDeg, HeightM: heightM, GravityMS2: v, UMS2: g.U, Source: g.Source,
		StandardMS2: gravity.Standard, DifferencePPM: (v/gravity.Standard - 1) * 1e6, WMOMS2: float64(wmo.Value),
		Assumptions: []string{
			"The height counts above the ellipsoid; above sea level will do, the difference is below 100 m, 3e-4 m/s².",
			"Rock and terrain are not in it: they are what the uncertainty is for. A measured or surveyed value is better, and wins in a configuration.",
		},
	}, nil
}

// String gives the place as text.
func (p Place) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "Latitude %g°, height %g m\n", p.LatitudeDeg, p.HeightM)
	b.WriteString(layout.Labelled("gravity", fmt.Sprintf("%.6f m/s², standard uncertainty %.2g m/s² (%.2g %%)", p.GravityMS2, p.UMS2, 100*p.UMS2/p.GravityMS2)))
	b.WriteString(layout.Labelled("source", p.Source+" (NIMA TR8350.2, 2000, equations 4-1 and 4-3)"))
	more := "more"
	if p.DifferencePPM < 0 {
		more = "less"
	}
	b.WriteString(layout.Labelled("standard", fmt.Sprintf("%g m/s² by definition; here it is %.1f ppm (%.4f %%) %s. A pressure worked out from a column with the standard value is "+
		"put right by the factor %.6f.", p.StandardMS2, math.Abs(p.DifferencePPM), math.Abs(p.DifferencePPM)/1e4, more, p.GravityMS2/p.StandardMS2)))
	b.WriteString(layout.Labelled("WMO-No. 8", fmt.Sprintf("%.6f m/s² by its theoretical formula, flat country (%+.1f ppm), for agreement with records made with it", p.WMOMS2, (p.WMOMS2/p.GravityMS2-1)*1e6)))
	b.WriteString(layout.List("Assumed", p.Assumptions))
	return b.String()
}
