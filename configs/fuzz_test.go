package configs

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"
)

// FuzzParse wants an answer to any bytes: a configuration that stays the same when it is read again, or problems that
// are bounded and can be printed.
func FuzzParse(f *testing.F) {
	for _, pattern := range []string{"*.example.yaml", "testdata/*.yaml"} {
		paths, err := filepath.Glob(pattern)
		if err != nil {
			f.Fatal(err)
		}
		for _, path := range paths {
			data, err := os.ReadFile(path)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(data)
		}
	}
	f.Add([]byte(minimal))
	f.Add([]byte(strings.Repeat("[", 5000)))
	f.Add([]byte(strings.Repeat("a: {", 3000)))
	f.Add([]byte("a: &a [*a, *a]\nb: *a\n? {x: y}\n: z\n"))
	f.Add([]byte("site: \"\\xff\\0\"\n\xff\xfe"))
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := Parse("fuzzed", data, testOptions())
		if err != nil {
			var p *Problems
			if !errors.As(err, &p) || len(p.List) == 0 || len(p.List) > mostProblems {
				t.Fatalf("got %v, want 1 to %d problems", err, mostProblems)
			}
			if text := err.Error(); !utf8.ValidString(text) || strings.ContainsAny(strings.ReplaceAll(text, "\n", ""), "\x00\x1b\r") {
				t.Fatalf("got %q, want text that can be printed", text)
			}
			for _, problem := range p.List {
				if len(problem.String()) > 4000 {
					t.Fatalf("got a problem of %d bytes, want it short", len(problem.String()))
				}
			}
			return
		}
		if c.Site == "" || c.Bridge == "" || len(c.Instruments) == 0 {
			t.Fatalf("got %+v, want site, bridge and instruments", c)
		}
		for _, in := range c.Instruments {
			if _, err := c.Canonical(in.Name); err != nil {
				t.Fatal(err)
			}
		}
	})
}
