package configs

import (
	"fmt"
	"slices"
	"strings"
)

// Problem is one thing that is wrong in the file, as a person mends it.
type Problem struct {
	Line    int    // in the file, from 1; 0 where no line can be named
	Key     string // the full path, as instruments.hepa-bank-2.geometry.slope_deg; empty for the file as a whole
	Seen    string // the value seen, foreign text quoted; empty where the key itself is the matter
	Fault   string // what is wrong with it: "is outside", "no such key"
	Allowed string // what is allowed, with its unit; may be empty
	Hint    string // what was probably meant, or what to do; may be empty
}

// String gives the problem as one line.
func (p Problem) String() string {
	var b strings.Builder
	if p.Line > 0 {
		fmt.Fprintf(&b, "line %d: ", p.Line)
	}
	if p.Key != "" {
		b.WriteString(p.Key + ": ")
	}
	words := make([]string, 0, 3)
	for _, w := range []string{p.Seen, p.Fault, p.Allowed} {
		if w != "" {
			words = append(words, w)
		}
	}
	b.WriteString(strings.Join(words, " "))
	switch {
	case p.Hint == "":
	case strings.HasPrefix(p.Hint, "("):
		b.WriteString(" " + p.Hint)
	default:
		b.WriteString("; " + p.Hint)
	}
	return b.String()
}

// mostProblems bounds the list: past it a file is not mended line by line.
const mostProblems = 100

// Problems is everything that is wrong with one file. It is the error of Load and Parse.
type Problems struct {
	File string
	List []Problem // by line
	More int       // how many beyond the bound of the list
}

// Error gives all of them, one a line under a headline.
func (p *Problems) Error() string {
	var b strings.Builder
	n := len(p.List) + p.More
	noun := "problems"
	if n == 1 {
		noun = "problem"
	}
	fmt.Fprintf(&b, "%s: %d %s, nothing started", p.File, n, noun)
	for _, problem := range p.List {
		b.WriteString("\n  " + problem.String())
	}
	if p.More > 0 {
		fmt.Fprintf(&b, "\n  and %d more", p.More)
	}
	return b.String()
}

// inOrder puts them in the order of the file, those without a line first.
func inOrder(list []Problem) []Problem {
	slices.SortStableFunc(list, func(a, b Problem) int { return a.Line - b.Line })
	return list
}

// asError makes the error of a list, nil when it is empty.
func asError(file string, list []Problem) error {
	if len(list) == 0 {
		return nil
	}
	p := &Problems{File: file, List: inOrder(list)}
	if extra := len(p.List) - mostProblems; extra > 0 {
		p.List, p.More = p.List[:mostProblems], extra
	}
	return p
}

// quote shows foreign text, 64 characters at most.
func quote(s string) string {
	const most = 64
	if r := []rune(s); len(r) > most {
		return fmt.Sprintf("%q…", string(r[:most]))
	}
	return fmt.Sprintf("%q", s)
}

// list joins words as a person does: a, b or c.
func list(words []string) string {
	switch len(words) {
	case 0:
		return ""
	case 1:
		return words[0]
	}
	return strings.Join(words[:len(words)-1], ", ") + " or " + words[len(words)-1]
}

// quoted quotes each word.
func quoted(words []string) []string {
	out := make([]string, len(words))
	for i, w := range words {
		out[i] = quote(w)
	}
	return out
}
