// Package layout sets text for a terminal of 80 columns: paragraphs, labelled lines and tables.
//
// It knows nothing of what it prints, and refuses nothing: a word longer than the line stands alone on its line.
package layout

import (
	"strings"
	"unicode/utf8"
)

// Width of a terminal that everybody has, in characters.
const Width = 80

// Wrap breaks text at blanks so that no line passes Width, counting characters. first and rest begin the first and the
// other lines.
func Wrap(first, rest, text string) string {
	return strings.Join(fold(first, rest, text, Width), "\n") + "\n"
}

// Labelled wraps text behind a label, the other lines set in as far as the first: "  label        text".
func Labelled(label, text string) string {
	const room = 16
	return Wrap(pad("  "+label, room, false)+" ", strings.Repeat(" ", room+1), text)
}

// List wraps each text behind a dash under a title; nothing where there are none.
func List(title string, texts []string) string {
	if len(texts) == 0 {
		return ""
	}
	var b strings.Builder
	b.WriteString("\n" + title + "\n")
	for _, t := range texts {
		b.WriteString(Wrap("  - ", "    ", t))
	}
	return b.String()
}

// fold breaks text into lines of at most width characters.
func fold(first, rest, text string, width int) (lines []string) {
	line, used := first, utf8.RuneCountInString(first)
	empty := true
	for _, word := range strings.Fields(text) {
		n := utf8.RuneCountInString(word)
		if !empty && used+1+n > width {
			lines = append(lines, strings.TrimRight(line, " "))
			line, used, empty = rest, utf8.RuneCountInString(rest), true
		}
		if !empty {
			line += " "
			used++
		}
		line += word
		used += n
		empty = false
	}
	return append(lines, strings.TrimRight(line, " "))
}

// pad fills text with blanks to width characters.
func pad(text string, width int, right bool) string {
	n := width - utf8.RuneCountInString(text)
	if n <= 0 {
		return text
	}
	if right {
		return strings.Repeat(" ", n) + text
	}
	return text + strings.Repeat(" ", n)
}
