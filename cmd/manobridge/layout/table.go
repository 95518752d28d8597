package layout

import (
	"strings"
	"unicode/utf8"
)

// Table is a table whose columns line up. Its first column holds words, set left, and is folded so that the table fits
// Width; the others are set right.
type Table struct {
	heads [][]string // lines of the head: names, then units
	rows  [][]string
}

// Head adds a line to the head.
func (t *Table) Head(cells ...string) { t.heads = append(t.heads, cells) }

// Row adds a row.
func (t *Table) Row(cells ...string) { t.rows = append(t.rows, cells) }

// String gives the table, set in by two, columns two blanks apart.
func (t *Table) String() string {
	all := append(append([][]string{}, t.heads...), t.rows...)
	widths := []int{}
	for _, row := range all {
		for i, cell := range row {
			if i >= len(widths) {
				widths = append(widths, 0)
			}
			widths[i] = max(widths[i], utf8.RuneCountInString(cell))
		}
	}
	if len(widths) == 0 {
		return ""
	}
	rest := 2
	for _, w := range widths[1:] {
		rest += 2 + w
	}
	const narrowest = 12 // below it words break badly; the table is then wider than the terminal
	widths[0] = min(widths[0], max(Width-rest, narrowest))
	var b strings.Builder
	for _, row := range all {
		for i, words := range fold("", "", row[0], widths[0]) {
			line := "  " + pad(words, widths[0], false)
			for k, cell := range row[1:] {
				if i > 0 {
					break // the figures stand beside the first line of the words
				}
				line += "  " + pad(cell, widths[k+1], true)
			}
			b.WriteString(strings.TrimRight(line, " ") + "\n")
		}
	}
	return b.String()
}
