package screen

import (
	"bytes"
	"flag"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
	"unicode/utf8"
)

var update = flag.Bool("update", false, "rewrite the golden files")

var nan = math.NaN()

// someRows are one of each: good with one and with two limbs, uncertain, bad, a long name, great and small numbers.
func someRows() []Row {
	return []Row{
		{"bank-a", 122.30, nan, 22.153, 163.842, 0.4812, 22.15, "good", "", nil},
		{"supply-duct", 181.72, 118.20, 63.514, 620.141, 1.0123, 21.33, "good", "", nil},
		{"fan-header", 592.1, nan, 355.12, 3255.04, 6.31, 22.25, "uncertain", "S", []string{"limb-at-scale-end", "pressure-out-of-range"}},
		{"airlock", nan, nan, nan, nan, nan, nan, "bad", "F", []string{"silence"}},
		{"seventh-room", -3.5, nan, -0.42, -3.8123, 0.211, -10.42, "good", "", nil},
		{"boiler-line", 10234.5, 10.25, 10224.25, 1234567.8, 1234.5, 104.3, "uncertain", "S", []string{"temperature-fixed"}},
		{"gowning", 1, 2, 3, 4, 5, 6, "bad", "F", []string{"temperature-out-of-range", "ambient-out-of-range", "limb-off-column"}},
	}
}

// draw plays a little: a first drawing with nothing, then rising pressures, then all rows.
func draw(o Options, more ...string) string {
	var b bytes.Buffer
	names := []string{"bank-a", "supply-duct", "fan-header", "airlock", "seventh-room", "boiler-line", "gowning", "filling-room"}
	t := New(&b, o, append(names, more...)...)
	notes := []string{"  broker tcp://127.0.0.1:40123, topics manobridge/test-hall/…"}
	_ = t.Draw("test-hall, demo: nothing yet", notes, 0)
	for s := range 6 {
		r := someRows()[0]
		r.PressurePa = 150 + 2*float64(s)
		t.Update(r, time.Duration(3*s)*time.Second)
	}
	for _, r := range someRows() {
		t.Update(r, 18*time.Second)
	}
	_ = t.Draw("test-hall, demo: 18 s, 643 readings, 4 refused", notes, 18*time.Second)
	return b.String()
}

func TestGolden(t *testing.T) {
	for _, tt := range []struct {
		name string
		o    Options
		more []string
	}{
		{"live", Options{Live: true}, nil},
		{"live-colour", Options{Live: true, Colour: true}, nil},
		{"plain", Options{}, nil},
		{"narrow", Options{Live: true, Colour: true, Width: 60}, nil},
		{"very-narrow", Options{Live: true, Width: 40}, nil},
		{"low", Options{Live: true, Height: 10}, nil},
		{"long-names", Options{Live: true}, []string{"exhaust-of-the-second-bench", "exhaust-1"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := draw(tt.o, tt.more...)
			path := filepath.Join("testdata", tt.name+".golden")
			if *update {
				if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if got != string(want) {
				t.Errorf("got\n%s\nwant (-update rewrites it)\n%s", got, want)
			}
		})
	}
}

var escape = regexp.MustCompile("\x1b\\[[0-9;]*[A-Za-z]")

// visible is what a person sees of a drawing.
func visible(s string) string { return strings.ReplaceAll(escape.ReplaceAllString(s, ""), "\r", "") }

func TestLinesStayWithinTheTerminal(t *testing.T) {
	for _, width := range []int{80, 72, 40, 10, 1} {
		for _, status := range []string{"good", "uncertain", "bad"} {
			for _, signal := range []string{"", "F", "C", "S", "M"} {
				var b bytes.Buffer
				table := New(&b, Options{Live: true, Colour: true, Width: width})
				for _, r := range someRows() {
					r.Status, r.Signal = status, signal
					table.Update(r, time.Second)
				}
				if err := table.Draw(strings.Repeat("title ", 30), []string{strings.Repeat("note ", 30)}, time.Second); err != nil {
					t.Fatal(err)
				}
				for _, line := range strings.Split(visible(b.String()), "\n") {
					if n := utf8.RuneCountInString(line); n > width {
						t.Errorf("%s %s: got %d characters, want at most %d: %q", status, signal, n, width, line)
					}
				}
				if width >= 40 && strings.Count(visible(b.String()), strings.TrimSpace(status+" "+signal)) < len(someRows()) {
					t.Errorf("%s %s: the status is not on every line:\n%s", status, signal, visible(b.String()))
				}
			}
		}
	}
}

func TestPlainLinesStayWithin80AndHaveNoEscapes(t *testing.T) {
	out := draw(Options{Colour: true}) // not live: colour is for terminals
	if strings.ContainsAny(out, "\x1b\r") {
		t.Errorf("plain output has control characters: %q", out)
	}
	for _, line := range strings.Split(out, "\n") {
		if n := utf8.RuneCountInString(line); n > 80 {
			t.Errorf("got %d characters, want at most 80: %q", n, line)
		}
	}
}

// TestColourSaysNothingOfItsOwn: with the colour taken away the text is that drawn without colour.
func TestColourSaysNothingOfItsOwn(t *testing.T) {
	sgr := regexp.MustCompile("\x1b\\[[0-9;]*m")
	coloured := draw(Options{Live: true, Colour: true})
	if !sgr.MatchString(coloured) {
		t.Error("no colour where it is allowed")
	}
	if got, want := sgr.ReplaceAllString(coloured, ""), draw(Options{Live: true}); got != want {
		t.Errorf("without its colour:\n%s\ndrawn without colour:\n%s", got, want)
	}
}

// TestDrawsOverItself plays the control sequences on a small screen model: after any number of drawings the last one is
// what stands there, and nothing of the others.
func TestDrawsOverItself(t *testing.T) {
	var b bytes.Buffer
	table := New(&b, Options{Live: true}, "bank-a", "airlock")
	for i, notes := range [][]string{{"a note", "a longer note than the next"}, {"short"}, nil} {
		r := someRows()[2] // brings a line of causes with it
		if i == 2 {
			r = someRows()[0]
			r.Instrument = "fan-header"
		}
		table.Update(r, time.Duration(i)*time.Second)
		if err := table.Draw("title", notes, time.Duration(i)*time.Second); err != nil {
			t.Fatal(err)
		}
	}
	got := terminal(t, b.String())
	var fresh bytes.Buffer
	only := New(&fresh, Options{Live: true}, "bank-a", "airlock", "fan-header")
	*only.rows["fan-header"] = *table.rows["fan-header"]
	if err := only.Draw("title", nil, 2*time.Second); err != nil {
		t.Fatal(err)
	}
	if want := terminal(t, fresh.String()); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// terminal plays text and the three control sequences, and gives the lines that stand in the end.
func terminal(t *testing.T, out string) string {
	t.Helper()
	lines := [][]rune{nil}
	y, x := 0, 0
	for rest := []rune(out); len(rest) > 0; {
		if rest[0] == '\x1b' {
			seq := escape.FindString(string(rest))
			rest = rest[utf8.RuneCountInString(seq):]
			switch seq[len(seq)-1] {
			case 'A':
				n := 0
				for _, d := range seq[2 : len(seq)-1] {
					n = 10*n + int(d-'0')
				}
				y -= n
			case 'K':
				lines[y] = lines[y][:min(x, len(lines[y]))]
			case 'J':
				lines[y] = lines[y][:min(x, len(lines[y]))]
				lines = lines[:y+1]
			default:
				t.Fatalf("unknown sequence %q", seq)
			}
			if y < 0 {
				t.Fatalf("%q goes above the first line", seq)
			}
			continue
		}
		switch r := rest[0]; r {
		case '\n':
			y, x = y+1, 0
			if y == len(lines) {
				lines = append(lines, nil)
			}
		case '\r':
			x = 0
		default:
			for len(lines[y]) <= x {
				lines[y] = append(lines[y], ' ')
			}
			lines[y][x] = r
			x++
		}
		rest = rest[1:]
	}
	var b strings.Builder
	for _, l := range lines {
		b.WriteString(strings.TrimRight(string(l), " ") + "\n")
	}
	return b.String()
}

func TestTableFitsTheHeight(t *testing.T) {
	for height := 1; height < 20; height++ {
		var b bytes.Buffer
		table := New(&b, Options{Live: true, Height: height}, "a", "b", "c", "d", "e", "f")
		table.Update(someRows()[2], 0)
		if err := table.Draw("title", []string{"note"}, 0); err != nil {
			t.Fatal(err)
		}
		// The cursor stands on one line more. Below the head and one line there is nothing to leave out.
		if n := strings.Count(b.String(), "\n"); n > max(height-1, 5) {
			t.Errorf("height %d: got %d lines, want at most %d", height, n, max(height-1, 5))
		}
	}
}

func TestShortNamesLeaveRoomForEverything(t *testing.T) {
	cols := choose([]string{"fourteen-chars"}, 80, false)
	if n := len(cols); n != 7 {
		t.Errorf("got %d columns, want all 7", n)
	}
	if w := cols.width(); w > 80 {
		t.Errorf("got a width of %d, want at most 80", w)
	}
}

func TestPlainWritesEachResultOnce(t *testing.T) {
	var b bytes.Buffer
	table := New(&b, Options{}, "bank-a", "airlock")
	table.Update(someRows()[0], 0)
	for range 3 {
		if err := table.Draw("title", []string{"note"}, 0); err != nil {
			t.Fatal(err)
		}
	}
	if n := strings.Count(b.String(), "bank-a"); n != 1 {
		t.Errorf("got the row %d times, want once:\n%s", n, b.String())
	}
	if strings.Contains(b.String(), "airlock") {
		t.Errorf("got a row without a result:\n%s", b.String())
	}
}

func TestForAFileIsPlain(t *testing.T) {
	f, err := os.Create(filepath.Join(t.TempDir(), "out"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if o := For(f, func(string) (string, bool) { return "xterm", true }); o != (Options{}) {
		t.Errorf("a file: got %+v, want plain", o)
	}
}
