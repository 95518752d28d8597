package caution

import (
	"slices"
	"testing"

	"manobridge/convert/fluid"
)

func TestForSaysEachWarningOnceAndGlassAlways(t *testing.T) {
	for _, c := range []struct {
		liquids []string
		want    []string
	}{
		{[]string{"water"}, []string{Glass}},
		{[]string{"mercury", "mercury", "water"}, []string{Mercury, Glass}},
		{[]string{"lubricating-oil:830", "ethanol-water:0.40", "mercury"}, []string{Mercury, Flammable, Glass}},
	} {
		if got := For(c.liquids...); !slices.Equal(got, c.want) {
			t.Errorf("%v: got %q, want %q", c.liquids, got, c.want)
		}
	}
}

// Mineral oils of every group burn (handbook knowledge); a group added later must not slip by.
func TestEveryPetroleumGroupBurns(t *testing.T) {
	for _, group := range fluid.PetroleumGroups() {
		if !Burns(group + ":850") {
			t.Errorf("%s: got no warning of fire, want one", group)
		}
	}
	for _, name := range []string{"water", "mercury", "air"} {
		if Burns(name) {
			t.Errorf("%s: got a warning of fire, want none", name)
		}
	}
}
