package configs

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"manobridge/convert/fluid"
)

func (k *checker) liquids() {
	for _, l := range k.c.Liquids {
		path := join("liquids", l.Name)
		if slices.Contains(builtIn(), l.Name) {
			k.report(path, Problem{Fault: "is the name of a built-in liquid", Hint: "give your own another name"})
		}
		if k.stated(join(path, "points")) {
			k.liquidTable(path, l)
			continue
		}
		for _, key := range []string{"density_kg_m3", "reference_c", "expansion_per_k"} {
			if !k.stated(join(path, key)) {
				k.missing(join(path, key), "a liquid needs density_kg_m3, reference_c and expansion_per_k, or a table points")
			}
		}
		k.rising(join(path, "valid_c"), l.ValidC, "temperature")
		if l.ValidC != nil && l.ReferenceC != nil && l.ValidC[0] < l.ValidC[1] &&
			(*l.ReferenceC < l.ValidC[0] || *l.ReferenceC > l.ValidC[1]) {
			k.report(join(path, "reference_c"), Problem{Seen: withUnit(*l.ReferenceC, "°C"), Fault: "lies outside valid_c,",
				Allowed: span(*l.ValidC, "°C")})
		}
		switch second := join(path, "expansion_quadratic_per_k2"); {
		case l.ExpansionForm == "quadratic" && !k.stated(second):
			k.missing(second, "expansion_form quadratic has a second coefficient")
		case l.ExpansionForm != "quadratic" && k.stated(second) && !k.bad(join(path, "expansion_form")):
			k.report(second, Problem{Fault: "is not used by expansion_form " + l.ExpansionForm, Hint: "it belongs to quadratic"})
		}
	}
}

func (k *checker) liquidTable(path string, l Liquid) {
	for _, key := range []string{"density_kg_m3", "reference_c", "expansion_per_k", "expansion_quadratic_per_k2", "expansion_u_per_k", "expansion_quadratic_u_per_k2", "expansion_form", "valid_c"} {
		if k.stated(join(path, key)) {
			k.report(join(path, key), Problem{Fault: "contradicts points, which gives the density at every temperature", Hint: "keep one of the two"})
		}
	}
	k.risingColumn(join(path, "points"), l.Points, 0, "temperatures")
}

// risingColumn reports a table one column of which does not rise from row to row.
func (k *checker) risingColumn(path string, points [][2]float64, column int, what string) {
	if k.bad(path) {
		return
	}
	for i := 1; i < len(points); i++ {
		if points[i][column] <= points[i-1][column] {
			k.report(path, Problem{Seen: fmt.Sprintf("%s after %s", number(points[i][column]), number(points[i-1][column])),
				Fault: "does not rise", Hint: "sort the rows by rising " + what})
			return
		}
	}
}

// fluidNamed reports a fluid that is neither defined nor built in.
func (k *checker) fluidNamed(path, name string) {
	if name == "" || k.bad(path) {
		return
	}
	own := make([]string, len(k.c.Liquids))
	for i, l := range k.c.Liquids {
		own[i] = l.Name
	}
	if slices.Contains(own, name) || k.spoiled[join("liquids", name)] {
		return
	}
	_, err := fluid.Named(name)
	if err == nil {
		return
	}
	kind, _, _ := strings.Cut(name, ":")
	if slices.Contains(builtIn(), kind) {
		k.report(path, Problem{Fault: "cannot be: " + err.Error()})
		return
	}
	p := Problem{Seen: quote(name), Fault: "is not a liquid under liquids, nor built in", Hint: "built in are " + strings.Join(fluid.Names(), ", ")}
	if w := nearest(name, append(own, builtIn()...)); w != "" {
		p.Hint = fmt.Sprintf("did you mean %q?", w)
	}
	k.report(path, p)
}

// builtIn lists the built-in names, without the number that some of them take.
func builtIn() []string {
	names := fluid.Names()
	for i, name := range names {
		names[i], _, _ = strings.Cut(name, ":")
	}
	return names
}

// stationPressure remarks on an air pressure that looks as if reduced to sea level.
func (k *checker) stationPressure() {
	l, a := k.c.Location, k.c.Ambient
	if l.HeightM == nil || a.PressureHPa == nil {
		return
	}
	// ISO 2533:1975, troposphere. Weather moves station pressure by some 40 hPa about it (common practice, no source).
	usual := 1013.25 * math.Pow(1-2.25577e-5**l.HeightM, 5.25588)
	if math.Abs(*a.PressureHPa-usual) > 60 {
		k.remark("ambient.pressure_hpa", fmt.Sprintf("%s hPa is unusual at %s m, where about %.0f hPa is: it is to be station pressure, not reduced to sea level",
			number(*a.PressureHPa), number(*l.HeightM), usual))
	}
}

// span writes a pair with its unit.
func span(pair [2]float64, unit string) string {
	return number(pair[0]) + " to " + withUnit(pair[1], unit)
}
