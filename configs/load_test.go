package configs

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
)

// testOptions stand for what the program passes in.
func testOptions() Options {
	return Options{HostName: "Rack-PC.lab.example", PressureUnit: pressureUnit, ReadFile: secretFile, LookupEnv: secretVariable}
}

func pressureUnit(unit string) error {
	switch unit {
	case "Pa", "hPa", "mmH2O", "inH2O":
		return nil
	}
	return errors.New("as Pa, hPa, mmH2O")
}

func TestExamplesLoad(t *testing.T) {
	for _, path := range examples(t) {
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

// secretFile stands for the files of secrets on the machine.
func secretFile(path string) ([]byte, error) {
	switch path {
	case "a", "/etc/manobridge/mqtt-password":
		return []byte(" " + planted + "\n"), nil
	case "blank":
		return []byte(" \n"), nil
	case "two-lines":
		return []byte("one\ntwo\n"), nil
	case "endless":
		return make([]byte, largestSecret+1), nil
	}
	return nil, &os.PathError{Op: "open", Path: path, Err: os.ErrNotExist}
}

func secretVariable(name string) (string, bool) {
	switch name {
	case "TOKEN", "MANOBRIDGE_SERIES_TOKEN":
		return planted, true
	case "EMPTY":
		return "", true
	}
	return "", false
}

func examples(t *testing.T) []string {
	t.Helper()
	paths, err := filepath.Glob("*.example.yaml")
	if err != nil || len(paths) == 0 {
		t.Fatalf("got no examples (%v), want some", err)
	}
	return paths
}
