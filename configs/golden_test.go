package configs

import (
	"errors"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "rewrite the golden files and the published schema")

// TestMessages holds what a person reads against testdata/*.want, one file for each kind of mistake. A file whose
// every line is wrong on purpose must give every problem at once.
func TestMessages(t *testing.T) {
	paths, err := filepath.Glob("testdata/*.yaml")
	if err != nil || len(paths) == 0 {
		t.Fatalf("got no cases (%v), want some", err)
	}
	for _, path := range paths {
		name := strings.TrimSuffix(filepath.Base(path), ".yaml")
		t.Run(name, func(t *testing.T) {
			data, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			_, err = Parse(name, data, testOptions())
			var problems *Problems
			if !errors.As(err, &problems) {
				t.Fatalf("got %v, want problems", err)
			}
			golden(t, "testdata/"+name+".want", err.Error()+"\n")
		})
	}
}

// golden compares with a file, or rewrites it.
func golden(t *testing.T, path, got string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("got\n%s\nwant (%s; -update rewrites it)\n%s", got, path, want)
	}
}
