package configs

import (
	"errors"
	"path/filepath"
	"testing"
)

// testOptions stand for what the program passes in.
func testOptions() Options {
	return Options{HostName: "Rack-PC.lab.example", BuiltInLiquid: builtIn, PressureUnit: pressureUnit}
}

func builtIn(name string) error {
	switch name {
	case "water", "mercury", "air", "ethanol-water:0.40", "lubricating-oil:850":
		return nil
	}
	return errors.New("built in are water, mercury, air, ethanol-water:FRACTION and petroleum groups as lubricating-oil:850")
}

func pressureUnit(unit string) error {
	switch unit {
	case "Pa", "hPa", "mmH2O", "inH2O":
		return nil
	}
	return errors.New("as Pa, hPa, mmH2O")
}

func TestExamplesLoad(t *testing.T) {
	paths, err := filepath.Glob("*.example.yaml")
	if err != nil || len(paths) == 0 {
		t.Fatalf("got no examples (%v), want some", err)
	}
	for _, path := range paths {
		t.Run(path, func(t *testing.T) {
			c, err := Load(path, testOptions())
			if err != nil {
				t.Fatal(err)
			}
			if len(c.Instruments) == 0 {
				t.Error("got no instruments, want some")
			}
			for _, in := range c.Instruments {
				if in.Temperature.From == "" {
					t.Errorf("%s: got no source of the temperature, want one", in.Name)
				}
			}
		})
	}
}
