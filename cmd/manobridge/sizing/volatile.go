package sizing

import (
	"strconv"
	"strings"
)

// flashMarginK is how far below its flash point a liquid must stay for an open limb. Our own choice.
const flashMarginK = 5.0

// flashPoints are the lowest flash points of the petroleum groups in °C, closed cup: kerosene and jet fuel 38 (ASTM D1655),
// diesel and gas oils 55 (EN 590), light lubricating and gauge oils 100 at least (common practice). Crude oil and gasoline
// burn at any room temperature. All from memory.
var flashPoints = []struct {
	group  string
	flashC float64
}{
	{"crude-oil", -20}, {"gasoline-jet-transition", 10}, {"gasoline", -40}, {"jet-fuel", 38}, {"fuel-oil", 55}, {"lubricating-oil", 100},
}

// spiritFlash is the flash point of ethanol in water by mass fraction, closed cup. Source: the table of handbooks by volume
// fraction, 10 to 96 % (from memory), the fractions turned into mass with the densities of OIML R 22.
var spiritFlash = []struct{ fraction, flashC float64 }{
	{0.080, 49}, {0.162, 36}, {0.246, 29}, {0.333, 26}, {0.424, 24}, {0.521, 22}, {0.624, 21}, {0.735, 20}, {0.857, 17}, {0.938, 17}, {1, 13},
}

// flashPoint gives the flash point of a liquid by its name, and whether it is known to have one that matters.
func flashPoint(name string) (celsius float64, known bool) {
	kind, parameter, _ := strings.Cut(name, ":")
	if kind == "ethanol-water" {
		w, err := strconv.ParseFloat(parameter, 64)
		if err != nil || w < spiritFlash[0].fraction {
			return 0, false
		}
		for i := 1; i < len(spiritFlash); i++ {
			a, b := spiritFlash[i-1], spiritFlash[i]
			if w <= b.fraction {
				return a.flashC + (b.flashC-a.flashC)*(w-a.fraction)/(b.fraction-a.fraction), true
			}
		}
	}
	for _, g := range flashPoints {
		if kind == g.group {
			return g.flashC, true
		}
	}
	return 0, false
}
