package fluid

import (
	"strings"
	"testing"

	"manobridge/convert/quantity"
)

func TestNamed(t *testing.T) {
	for name, canonical := range map[string]string{
		"water": "water", "mercury": "mercury", "air": "air",
		"ethanol-water:0.40":    "ethanol-water:0.4",
		"lubricating-oil:850":   "lubricating-oil:850",
		"fuel-oil:900.5":        "fuel-oil:900.5",
		"jet-fuel:800":          "jet-fuel:800",
		"gasoline:740":          "gasoline:740",
		"crude-oil:870":         "crude-oil:870",
		"ethanol-water:1":       "ethanol-water:1",
		"lubricating-oil:8.5e2": "lubricating-oil:850",
	} {
		f, err := Named(name)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if f.Name() != canonical {
			t.Errorf("%s: got the name %q, want %q", name, f.Name(), canonical)
		}
		again, err := Named(f.Name())
		if err != nil || again != f {
			t.Errorf("%s: its own name gives %+v, %v, want %+v", name, again, err, f)
		}
		if _, err := f.At(quantity.Celsius(20)); err != nil {
			t.Errorf("%s at 20 °C: %v", name, err)
		}
	}
}

func TestEveryListedNameIsKnown(t *testing.T) {
	for _, name := range Names() {
		name = strings.NewReplacer(":W", ":0.4").Replace(name)
		kind, rest, _ := strings.Cut(name, ":")
		if rest == "DENSITY" {
			for _, g := range petroleumGroups {
				if g.name == kind {
					name = kind + ":" + number((g.low+g.high)/2)
				}
			}
		}
		if _, err := Named(name); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestNamedRefusalsHelp(t *testing.T) {
	for name, want := range map[string]string{
		"watter":               `did you mean "water"?`,
		"Mercury":              `did you mean "mercury"?`,
		"etanol-water:0.4":     `did you mean "ethanol-water"?`,
		"lubricating-oil":      "needs a number: lubricating-oil:850, the density at 15 °C in kg/m³",
		"ethanol-water":        "needs a number: ethanol-water:0.40, a mass fraction",
		"ethanol-water:40":     "mass fraction of ethanol-water is 40; allowed: 0 to 1",
		"ethanol-water:forty":  `mass fraction "forty" is not a number`,
		"lubricating-oil:0.85": "density at 15 °C of lubricating-oil is 0.85 kg/m³; allowed: 800 to 1164 kg/m³",
		"water:5":              "water takes no number",
		"brake-fluid":          "known: water, mercury, air, ethanol-water:W, crude-oil:DENSITY",
		"":                     "known: water",
	} {
		f, err := Named(name)
		if err == nil || f != nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: got %v, %v, want an error with %q", name, f, err, want)
		}
	}
	if _, err := Named("brake-fluid"); strings.Contains(err.Error(), "did you mean") {
		t.Errorf("got a guess for a name like no other: %v", err)
	}
}

func FuzzNamed(f *testing.F) {
	for _, s := range []string{"water", "ethanol-water:0.40", "lubricating-oil:850", "lubricating-oil:NaN", "ethanol-water:0x1p-2",
		"ethanol-water:1e-320", "air:", ":", "\xff:1", strings.Repeat("a", 10000)} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, name string) {
		fl, err := Named(name)
		if err != nil {
			if fl != nil || len(err.Error()) > 1000+4*len(name) {
				t.Errorf("%q: got %v and an error of %d bytes", name, fl, len(err.Error()))
			}
			return
		}
		again, err := Named(fl.Name())
		if err != nil || again != fl {
			t.Errorf("%q: its own name %q gives %+v, %v, want %+v", name, fl.Name(), again, err, fl)
		}
	})
}
