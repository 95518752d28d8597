package fluid

import (
	"fmt"
	"slices"
	"strings"
)

// Names lists what Named knows, a fluid that takes a number with the form of that number.
func Names() []string {
	names := []string{"water", "mercury", "air", "ethanol-water:W"}
	for _, g := range petroleumGroups {
		names = append(names, g.name+":DENSITY")
	}
	return names
}

// Named gives a built-in fluid, with every uncertainty at its default:
//
//	water, mercury
//	air                     StandardAir: nobody stated the ambient; set it with NewAir where somebody did
//	ethanol-water:0.40      mass fraction of ethanol
//	lubricating-oil:850     density at 15 °C in kg/m³; so for every group of PetroleumGroups
//
// Any other name is refused with the list of names and the nearest one.
func Named(name string) (Fluid, error) {
	kind, parameter, given := strings.Cut(name, ":")
	if len(name) > longestName {
		return nil, unknown(name, kind)
	}
	switch kind {
	case "water", "mercury", "air":
		if given {
			return nil, fmt.Errorf("fluid %q: %s takes no number", name, kind)
		}
		return plain(kind)
	case "ethanol-water":
		return withParameter(name, "ethanol-water:0.40, a mass fraction", given, func() (Fluid, error) { return parseEthanol(parameter) })
	}
	if slices.Contains(PetroleumGroups(), kind) {
		return withParameter(name, kind+":850, the density at 15 °C in kg/m³", given,
			func() (Fluid, error) { return parsePetroleum(kind, parameter) })
	}
	return nil, unknown(name, kind)
}

// longestName bounds a name in bytes, so that no message shows more of a foreign one.
const longestName = 64

// plain makes a fluid that takes no number.
func plain(kind string) (Fluid, error) {
	switch kind {
	case "water":
		return NewWater(Uncertainty{})
	case "mercury":
		return NewMercury(MercuryOptions{})
	}
	return StandardAir(), nil
}

// withParameter makes a fluid that takes a number, or says what is wrong with it.
func withParameter(name, example string, given bool, parse func() (Fluid, error)) (Fluid, error) {
	if !given {
		return nil, fmt.Errorf("fluid %q needs a number: %s", name, example)
	}
	f, err := parse()
	if err != nil {
		return nil, fmt.Errorf("fluid %q: %w; it is written %s", name, err, example)
	}
	return f, nil
}

// unknown words the refusal of a name.
func unknown(name, kind string) error {
	if len(name) > longestName {
		name = strings.ToValidUTF8(name[:longestName], "") + "…"
	}
	hint := ""
	best := 3 // more changes than this is another word
	for _, known := range Names() {
		word, _, _ := strings.Cut(known, ":")
		if d := distance(strings.ToLower(kind), word); d < best {
			best, hint = d, fmt.Sprintf("; did you mean %q?", word)
		}
	}
	return fmt.Errorf("fluid %q is not known%s; known: %s", name, hint, strings.Join(Names(), ", "))
}

// distance counts the letters to change, add or drop to get from one word to the other (V. I. Levenshtein 1966). Words
// much longer than any name are far.
func distance(a, b string) int {
	if len(a) > len(b)+3 {
		return len(a)
	}
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := diagonal
			if a[i] != b[j] {
				cost++
			}
			diagonal = row[j+1]
			row[j+1] = min(cost, row[j]+1, diagonal+1)
		}
	}
	return row[len(b)]
}
