package layout

import (
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

// A word that fits never makes a line longer than the terminal, whatever the text, and no word is lost.
func TestWrapKeepsWordsWithinTheWidth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.SliceOf(rapid.StringMatching(`[a-zρ°µ±]{1,30}`)).Draw(t, "words")
		got := Wrap("  first  ", "    ", strings.Join(words, " "))
		for _, line := range strings.Split(got, "\n") {
			if n := utf8.RuneCountInString(line); n > Width {
				t.Fatalf("got a line of %d characters, want at most %d: %q", n, Width, line)
			}
		}
		if back := strings.Fields(got)[1:]; strings.Join(back, " ") != strings.Join(words, " ") {
			t.Fatalf("got the words %q, want %q", back, words)
		}
	})
}

func TestTableLinesUpByCharacters(t *testing.T) {
	var table Table
	table.Head("fluid", "density", "Pa")
	table.Head("", "kg/m³", "")
	table.Row("air", "1.2", "−0.5")
	table.Row("a light oil with a name that is far too long to stand on one line of the terminal in full", "830.25", "12.25")
	lines := strings.Split(strings.TrimRight(table.String(), "\n"), "\n")
	for _, line := range lines {
		if n := utf8.RuneCountInString(line); n > Width {
			t.Errorf("got a line of %d characters, want at most %d: %q", n, Width, line)
		}
	}
	// Right edges: every line of figures ends where the head does.
	want := utf8.RuneCountInString(lines[0])
	for _, i := range []int{2, 3} {
		if got := utf8.RuneCountInString(lines[i]); got != want {
			t.Errorf("line %d ends at column %d, want %d: %q", i+1, got, want, lines[i])
		}
	}
	if !strings.HasSuffix(lines[3], "12.25") || strings.Contains(lines[4], "12.25") {
		t.Errorf("got %q and %q, want the figures beside the first line of the words", lines[3], lines[4])
	}
}

func TestListOfNothingIsNothing(t *testing.T) {
	if got := List("Assumed", nil); got != "" {
		t.Errorf("got %q, want nothing", got)
	}
	if got, want := List("Assumed", []string{"one"}), "\nAssumed\n  - one\n"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}
