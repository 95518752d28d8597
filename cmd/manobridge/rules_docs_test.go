package main

import (
	"path"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// A package's comment is where a newcomer starts: it says what the package is for and what it refuses to do.
func TestEveryPackageSaysWhatItIsFor(t *testing.T) {
	docs := map[string]string{} // by directory
	for _, f := range sources(t) {
		if strings.HasSuffix(f.path, "_test.go") {
			continue
		}
		docs[f.dir()] += f.syntax.Doc.Text()
	}
	for dir, doc := range docs {
		want := "Package " + path.Base(dir) + " "
		if dir == "cmd/manobridge" {
			want = "Command " + path.Base(dir) + " "
		}
		if !strings.HasPrefix(doc, want) || strings.Count(doc, ".") < 2 {
			t.Errorf("%s: got package comment %q, want %q and at least two sentences: what it is for, what it refuses", dir, doc, want+"…")
		}
	}
}

// What is written speaks of the project, not of how it came about, and nothing is left for later without a place.
func TestWordsAreAboutTheProject(t *testing.T) {
	forbidden := []struct {
		pattern *regexp.Regexp
		why     string
	}{
		{regexp.MustCompile(`\b(TO[D]O|FIX[M]E|X[X]X|HA[C]K)\b`), "do it, or say in words what is missing and what follows from it"},
		{regexp.MustCompile(`(?i)\b(issue|ticket|task|session)s? #?[0-9]+\b`), "numbers of other systems mean nothing to a reader; say the reason"},
		{regexp.MustCompile(`(?i)\bas (requested|instructed|discussed)\b`), "say why it is so, not who wanted it"},
		{regexp.MustCompile(`(^|[\s"'=(` + "`" + `])/(home|work|Users)/[a-z]`), "a path of one machine's owner is on no other machine"},
	}
	kinds := []string{".go", ".md", ".yaml", ".json", ".csv", ".service", ""}
	for _, name := range projectFiles(t) {
		if !slices.Contains(kinds, path.Ext(name)) || path.Base(name) == "manobridge" {
			continue
		}
		for i, line := range strings.Split(readFile(t, name), "\n") {
			for _, f := range forbidden {
				if found := f.pattern.FindString(line); found != "" {
					t.Errorf("%s:%d: %q: %s", name, i+1, found, f.why)
				}
			}
		}
	}
}

// What a contributor is told to run is what guards the main branch: the same words in both.
func TestChecksAreThoseOfTheGuide(t *testing.T) {
	guide, script := readFile(t, "DEVELOPERS.md"), readFile(t, ".ci/run")
	_, rest, _ := strings.Cut(guide, "## What is checked")
	_, rest, _ = strings.Cut(rest, "```sh\n")
	listed, _, found := strings.Cut(rest, "```")
	commands := strings.Split(strings.TrimSpace(listed), "\n")
	if !found || len(commands) < 5 {
		t.Fatalf("got the commands %q in DEVELOPERS.md, want the list under What is checked", commands)
	}
	for _, command := range commands {
		if !strings.Contains(script, command) {
			t.Errorf("DEVELOPERS.md lists %q, want it word for word in .ci/run", command)
		}
	}
	for line := range strings.Lines(script) {
		_, command, found := strings.Cut(line, "check '")
		if command, _, closed := strings.Cut(command, "'"); found && closed && !slices.Contains(commands, command) {
			t.Errorf(".ci/run runs %q, want it word for word in DEVELOPERS.md", command)
		}
	}
}
