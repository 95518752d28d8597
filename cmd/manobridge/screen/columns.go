package screen

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"manobridge/convert/uncertainty"
)

// column is one column: two lines of head, and the text of a row.
type column struct {
	name, unit string
	width      int
	left       bool
	numeric    bool // gives way to the cause of a bad result
	last       int  // order in which columns go where the line is short, highest first; 0 stays
	text       func(e *entry, at time.Duration) string
}

// columns is a whole line, one blank between two columns, the status last.
type columns []column

// statusWidth is that of the longest status with its letter.
const statusWidth = len("uncertain S")

// The column of names, its head and its widths.
const (
	instrumentHead = "instrument"
	shortestName   = len(instrumentHead)
	longestName    = 22
)

// choose gives the columns that fit a width beside names of that length, and the status always: what says least goes
// first. With the time in front there is no room for a trend.
func choose(names []string, width int, withTime bool) columns {
	longest := shortestName
	for _, n := range names {
		longest = max(longest, utf8.RuneCountInString(n))
	}
	all := columns{
		column{name: "time", unit: "s", width: 8, last: 0, text: func(_ *entry, at time.Duration) string {
			return strconv.FormatFloat(at.Seconds(), 'f', 1, 64)
		}},
		column{name: instrumentHead, width: min(longest, longestName), left: true, last: 0, text: func(e *entry, _ time.Duration) string {
			return e.row.Instrument
		}},
		number("low", "mm", 6, 2, 3, func(r *Row) float64 { return r.LowMm }),
		number("high", "mm", 6, 2, 4, func(r *Row) float64 { return r.HighMm }),
		number("head", "mm", 7, 2, 2, func(r *Row) float64 { return r.HeadMm }),
		column{name: "pressure ± U", unit: "Pa", width: 16, numeric: true, last: 0, text: pressure},
		number("temp", "°C", 5, 1, 1, func(r *Row) float64 { return r.TemperatureC }),
		column{name: "trend", width: trendMarks, left: true, last: 5, text: func(e *entry, at time.Duration) string { return e.trend.marks(at) }},
	}
	if withTime {
		all = all[:len(all)-1]
	} else {
		all = all[1:]
	}
	for goes := 5; goes > 0 && all.width() > width; goes-- {
		all = slices.DeleteFunc(all, func(c column) bool { return c.last == goes })
	}
	if over := all.width() - width; over > 0 { // names are cut last of all
		i := slices.IndexFunc(all, func(c column) bool { return c.name == instrumentHead })
		all[i].width = max(shortestName, all[i].width-over)
	}
	return all
}

// number is a column of numbers from a row.
func number(name, unit string, width, places, last int, of func(*Row) float64) column {
	return column{name: name, unit: unit, width: width, numeric: true, last: last,
		text: func(e *entry, _ time.Duration) string { return decimals(of(&e.row), places, width) }}
}

// width is that of a whole line.
func (c columns) width() int {
	n := statusWidth
	for _, col := range c {
		n += col.width + 1
	}
	return n
}

// head is a line of the head, 0 for names and 1 for units.
func (c columns) head(i int) string {
	var b strings.Builder
	for _, col := range c {
		b.WriteString(col.cell([2]string{col.name, col.unit}[i]) + " ")
	}
	if i == 0 {
		b.WriteString("status")
	}
	return strings.TrimRight(b.String(), " ")
}

// line gives a row without its status, and the status.
func (c columns) line(e *entry, at time.Duration) (text, status string) {
	var b strings.Builder
	instead := ""
	switch {
	case !e.seen:
		instead = "no reading yet"
	case e.row.Status == "bad":
		instead = "no value: " + strings.Join(e.row.Causes, ", ")
	}
	room := 0
	for _, col := range c {
		if instead != "" && col.numeric {
			room += col.width + 1
			continue
		}
		if room > 0 {
			b.WriteString(fill(clip(instead, room-1), room, true))
			room = 0
		}
		b.WriteString(col.cell(col.text(e, at)) + " ")
	}
	if room > 0 {
		b.WriteString(fill(clip(instead, room-1), room, true))
	}
	if !e.seen {
		return strings.TrimRight(b.String(), " "), ""
	}
	status = e.row.Status
	if e.row.Signal != "" {
		status += " " + e.row.Signal
	}
	return b.String(), status
}

// cell sets text into the column's width.
func (c column) cell(text string) string { return fill(clip(text, c.width), c.width, c.left) }

// pressure is value ± U, the sign in the same place on every line.
func pressure(e *entry, _ time.Duration) string {
	if math.IsNaN(e.row.PressurePa) || math.IsNaN(e.row.ExpandedPa) {
		return "–"
	}
	v, u := uncertainty.Rounded(e.row.PressurePa, e.row.ExpandedPa)
	return fill(v, 8, false) + " ± " + fill(u, 5, true)
}

// decimals writes a number with so many decimals, fewer where it would pass the width: a cut number would be a wrong one.
func decimals(v float64, n, width int) string {
	if math.IsNaN(v) {
		return "–"
	}
	for ; n >= 0; n-- {
		if s := strconv.FormatFloat(v, 'f', n, 64); len(s) <= width {
			return s
		}
	}
	return strconv.FormatFloat(v, 'e', 0, 64)
}

// clip cuts text to a width in characters and marks the cut.
func clip(text string, width int) string {
	if utf8.RuneCountInString(text) <= width {
		return text
	}
	return string([]rune(text)[:max(0, width-1)]) + "…"
}

// fill sets text left or right with blanks.
func fill(text string, width int, left bool) string {
	blanks := strings.Repeat(" ", max(0, width-utf8.RuneCountInString(text)))
	if left {
		return text + blanks
	}
	return blanks + text
}
