package screen

import (
	"fmt"
	"io"
	"math"
	"os"
	"strings"
	"time"

	"golang.org/x/term"
)

// Row is the latest result of one instrument. NaN stands for a number that does not exist.
type Row struct {
	Instrument     string
	LowMm, HighMm  float64
	HeadMm         float64
	PressurePa     float64
	ExpandedPa     float64
	TemperatureC   float64
	Status, Signal string   // good, uncertain, bad; the NE 107 letter or nothing
	Causes         []string // worst first
}

// Options says what the table is drawn on.
type Options struct {
	Live   bool          // a terminal: redraw in place
	Colour bool          // underline the status with colour
	Width  int           // columns of the terminal; 0: 80
	Height int           // lines of the terminal; 0: no limit
	Step   time.Duration // what one mark of the trend stands for; 0: 3 s
	Unit   string        // of the pressures, which the rows have in it; empty: Pa
}

// For finds out what a file is. lookup is os.LookupEnv: NO_COLOR, set to anything but nothing, forbids colour
// (no-color.org); a TERM of dumb, or none, cannot be redrawn.
func For(f *os.File, lookup func(string) (string, bool)) Options {
	var o Options
	fd := int(f.Fd())
	kind, _ := lookup("TERM")
	if !term.IsTerminal(fd) || kind == "" || kind == "dumb" {
		return o
	}
	o.Live = true
	no, set := lookup("NO_COLOR")
	o.Colour = !set || no == ""
	if w, h, err := term.GetSize(fd); err == nil && w > 0 && h > 0 {
		o.Width, o.Height = w, h
	}
	return o
}

// Table is the table. Not safe for concurrent use.
type Table struct {
	w io.Writer
	o Options

	names []string
	rows  map[string]*entry
	plain columns // of plain lines, once their head was written
	drawn int     // lines of the last drawing, to go back over
}

// entry is one line of the table.
type entry struct {
	row   Row
	seen  bool
	fresh bool // not yet written as a plain line
	trend trend
}

// New makes a table for these instruments, in this order.
func New(w io.Writer, o Options, instruments ...string) *Table {
	if o.Width <= 0 || o.Width > 80 {
		o.Width = 80
	}
	if o.Step <= 0 {
		o.Step = 3 * time.Second
	}
	t := &Table{w: w, o: o, rows: map[string]*entry{}}
	for _, name := range instruments {
		t.entry(name)
	}
	return t
}

func (t *Table) entry(name string) *entry {
	e := t.rows[name]
	if e == nil {
		e = &entry{trend: trend{step: t.o.Step}}
		e.row.Instrument = name
		t.rows[name] = e
		t.names = append(t.names, name)
	}
	return e
}

// Update takes in a result; at is the time since the table was begun.
func (t *Table) Update(r Row, at time.Duration) {
	e := t.entry(r.Instrument)
	e.row, e.seen, e.fresh = r, true, true
	if r.Status != "bad" {
		e.trend.add(r.PressurePa, r.ExpandedPa, at)
	}
}

// Draw writes the table: on a terminal over the last one, between title and notes, else the rows that are new since, one
// line each. Nothing else may write to the terminal between two drawings.
func (t *Table) Draw(title string, notes []string, at time.Duration) error {
	var b strings.Builder
	if t.o.Live {
		t.drawLive(&b, title, notes, at)
	} else {
		t.drawPlain(&b, at)
	}
	_, err := io.WriteString(t.w, b.String())
	return err
}

// The three control sequences used. Source: ECMA-48, 5th edition, 8.3.22 (CUU), 8.3.41 (EL), 8.3.39 (ED).
const (
	up        = "\x1b[%dA"
	clearLine = "\x1b[K"
	clearRest = "\x1b[J"
)

func (t *Table) drawLive(b *strings.Builder, title string, notes []string, at time.Duration) {
	cols := t.columns(false)
	lines := []string{t.fit(title), "", t.fit(cols.head(0)), t.fit(cols.head(1))}
	tail := []string{}
	for _, name := range t.names {
		e := t.rows[name]
		if e.seen && e.row.Status != "bad" && len(e.row.Causes) > 0 {
			tail = append(tail, t.fit("  "+name+" is "+e.row.Status+": "+strings.Join(e.row.Causes, ", ")))
		}
	}
	if len(notes) > 0 {
		tail = append(tail, "")
	}
	for _, n := range notes {
		tail = append(tail, t.fit(n))
	}
	// A table taller than the terminal could not be drawn over: what does not fit is counted. Instruments come first.
	room := math.MaxInt
	if t.o.Height > 0 {
		room = max(1, t.o.Height-1-len(lines))
	}
	shown := len(t.names)
	if shown > room {
		shown = room - 1
	}
	for _, name := range t.names[:shown] {
		lines = append(lines, t.line(cols, t.rows[name], at))
	}
	if rest := len(t.names) - shown; rest > 0 {
		lines = append(lines, t.fit(fmt.Sprintf("  and %d more instruments; the terminal is too low for them", rest)))
		tail = nil
	}
	if room = room - shown; len(tail) > room {
		tail = tail[:max(0, room)]
	}
	lines = append(lines, tail...)

	if t.drawn > 0 {
		fmt.Fprintf(b, up, t.drawn)
		b.WriteString("\r")
	}
	for _, l := range lines {
		b.WriteString(l + clearLine + "\n")
	}
	b.WriteString(clearRest)
	t.drawn = len(lines)
}

// columns gives the columns under the unit of the pressures.
func (t *Table) columns(withTime bool) columns {
	cols := choose(t.names, t.o.Width, withTime)
	for i := range cols {
		if cols[i].unit == "Pa" && t.o.Unit != "" {
			cols[i].unit = t.o.Unit
		}
	}
	return cols
}

func (t *Table) drawPlain(b *strings.Builder, at time.Duration) {
	if t.plain == nil { // chosen once: the lines must line up under their head
		t.plain = t.columns(true)
		b.WriteString(t.plain.head(0) + "\n" + t.plain.head(1) + "\n")
	}
	for _, name := range t.names {
		if e := t.rows[name]; e.fresh {
			e.fresh = false
			text, status := t.plain.line(e, at)
			b.WriteString(text + status + "\n")
		}
	}
}

// line is one instrument on the terminal, its status in colour where that is allowed and the line is whole.
func (t *Table) line(cols columns, e *entry, at time.Duration) string {
	text, status := cols.line(e, at)
	whole := text + status
	if cut := t.fit(whole); cut != whole || !t.o.Colour {
		return cut
	}
	return text + colour(e.row.Status, status)
}

// fit cuts a line to the width of the terminal: a wrapped one could not be drawn over.
func (t *Table) fit(line string) string { return clip(strings.TrimRight(line, " "), t.o.Width) }

// colour underlines a status: yellow for uncertain, bold red for bad, nothing for good. Source of the sequences:
// ECMA-48, 8.3.117 (SGR).
func colour(status, text string) string {
	switch status {
	case "uncertain":
		return "\x1b[33m" + text + "\x1b[0m"
	case "bad":
		return "\x1b[1;31m" + text + "\x1b[0m"
	}
	return text
}
