package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"manobridge/configs"
)

// The configuration that README shows is one that the program takes.
func TestConfigurationInReadmeLoads(t *testing.T) {
	_, rest, found := strings.Cut(readFile(t, "README.md"), "```yaml\n")
	text, _, closed := strings.Cut(rest, "```")
	if !found || !closed {
		t.Fatal("README.md shows no configuration")
	}
	c, err := configs.Parse("README.md", []byte(text), configOptions("bench-pc", true))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := assembleAll(c); err != nil {
		t.Fatal(err)
	}
}

// What README shows of explain and predict is what they print.
func TestOutputInReadmeIsReal(t *testing.T) {
	readme := readFile(t, "README.md")
	if err := os.Chdir(repository); err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := os.Chdir(filepath.Join("cmd", "manobridge")); err != nil {
			t.Fatal(err)
		}
	}()
	shown := 0
	for _, block := range strings.Split(readme, "```\n$ manobridge ")[1:] {
		block, _, _ = strings.Cut(block, "\n```")
		lines := strings.Split(block, "\n")
		args := commandLine(lines[0])
		var out, errs bytes.Buffer
		if status := executeContext(t.Context(), args, streams{strings.NewReader(""), &out, &errs}); status != exitDone {
			t.Fatalf("%v: got status %d: %s", args, status, errs.String())
		}
		for _, line := range lines[1:] {
			if line != "…" && !strings.Contains(out.String(), line+"\n") {
				t.Errorf("%v does not print %q", args, line)
			}
		}
		shown++
	}
	if shown < 2 {
		t.Errorf("got %d commands with output in README.md, want at least 2", shown)
	}
}

// commandLine splits a command line at blanks outside double quotes.
func commandLine(line string) (out []string) {
	for i, part := range strings.Split(line, `"`) {
		if i%2 == 1 {
			out = append(out, part)
			continue
		}
		out = append(out, strings.Fields(part)...)
	}
	return out
}
