package configs

import (
	"fmt"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"
)

// scalar fills a number, a truth value, a text, a time span or a date, and holds it against the rules of its key.
func (w *walker) scalar(n *yaml.Node, v reflect.Value, path string, f field) bool {
	if n.Kind != yaml.ScalarNode {
		w.note(n, path, Problem{Seen: shape(n), Fault: "stands where one value is needed"})
		return false
	}
	problem := fill(n, v, f)
	if problem == nil {
		return true
	}
	if f.tag.Get("env") == "true" {
		problem.Seen = "" // it may be the secret itself
		problem.Fault = "is not the name of an environment variable (the value is not shown)"
	}
	w.note(n, path, *problem)
	return false
}

// fill reads by the type of v.
func fill(n *yaml.Node, v reflect.Value, f field) *Problem {
	switch v.Type() {
	case durationType:
		d, problem := readDuration(n)
		if problem == nil {
			v.SetInt(int64(d))
			problem = timeRange(d, f)
		}
		return problem
	case dateType:
		d, problem := readDate(n)
		if problem == nil {
			v.Set(reflect.ValueOf(d))
		}
		return problem
	}
	switch v.Kind() {
	case reflect.Float64:
		x, problem := readNumber(n)
		if problem == nil {
			v.SetFloat(x)
			problem = numberRules(n.Value, x, f)
		}
		return problem
	case reflect.Int:
		x, problem := readInteger(n)
		if problem == nil {
			v.SetInt(int64(x))
			problem = numberRules(n.Value, float64(x), f)
		}
		return problem
	case reflect.Bool:
		x, problem := readBool(n)
		v.SetBool(x)
		return problem
	case reflect.String:
		s, problem := readText(n)
		if problem == nil {
			v.SetString(s)
			problem = textRules(s, f)
		}
		return problem
	}
	return &Problem{Fault: "cannot be read", Hint: "this is a fault of the program, not of the file"}
}

// numberRules holds a number against the range or the legal values of its key.
func numberRules(text string, x float64, f field) *Problem {
	if legal := f.words("legal", ","); legal != nil {
		best, gap := legal[0], 0.0
		for i, word := range legal {
			value := boundEnd(word)
			if value == x {
				return nil
			}
			if d := max(value, x) - min(value, x); i == 0 || d < gap {
				best, gap = word, d
			}
		}
		p := &Problem{Seen: text, Fault: "is not"}
		if len(legal) > 8 {
			p.Fault, p.Hint = "is not in use on serial lines", "(did you mean "+best+"?)"
		} else {
			p.Allowed = list(legal)
		}
		return p
	}
	for _, b := range f.bounds() {
		if !b.holds(x) {
			p := &Problem{Seen: text, Fault: "is outside", Allowed: b.String()}
			if units := b.likelyUnits(x); len(units) > 0 {
				p.Hint = "(typed in " + list(units) + "?)"
			} else {
				p.Hint = f.tag.Get("outside")
			}
			return p
		}
	}
	return nil
}

// timeRange holds a time span against the range of its key.
func timeRange(d Duration, f field) *Problem {
	tag := f.tag.Get("range")
	if tag == "" || parseBound(tag, "").holds(d.Std().Seconds()) {
		return nil
	}
	low, high, _ := strings.Cut(strings.Trim(tag, "[]"), ",")
	return &Problem{Seen: d.String(), Fault: "is outside", Allowed: low + " to " + high}
}

// textRules holds a text against the rules of its key.
func textRules(s string, f field) *Problem {
	if words := f.words("enum", "|"); words != nil && !slices.Contains(words, s) {
		p := &Problem{Seen: quote(s), Fault: "is not one of", Allowed: strings.Join(words, ", ")}
		if w := nearest(s, words); w != "" {
			p.Hint = fmt.Sprintf("did you mean %q?", w)
		}
		return p
	}
	if f.tag.Get("name") == "true" {
		if fault := nameFault(s); fault != nil {
			return fault
		}
	}
	if pattern := f.tag.Get("pattern"); pattern != "" && !regexp.MustCompile(pattern).MatchString(s) {
		return &Problem{Seen: quote(s), Fault: "is not", Allowed: f.tag.Get("means")}
	}
	if f.tag.Get("env") == "true" && !envName.MatchString(s) {
		return &Problem{}
	}
	if schemes := f.words("schemes", ","); schemes != nil {
		return addressFault(s, schemes)
	}
	return nil
}

// envName is what POSIX lets a portable program use (IEEE Std 1003.1-2017, 8.1), lower case allowed as shells do.
var envName = regexp.MustCompile(`^[A-Za-z_][A-Za-z0-9_]{0,127}$`)

// Names are topic levels, tags and file-safe words: they keep to what all of these allow.
const (
	longestName = 63
	namePattern = `^[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?$`
)

var legalName = regexp.MustCompile(namePattern)

// nameFault says what is wrong with a name, nil when nothing is.
func nameFault(s string) *Problem {
	if legalName.MatchString(s) {
		return nil
	}
	p := &Problem{Seen: quote(s), Fault: "is not a name:", Allowed: "lower-case letters, digits and hyphens inside, at most " + strconv.Itoa(longestName)}
	if better := NameFrom(strings.ReplaceAll(s, ".", "-")); better != "" && better != s {
		p.Hint = "write " + better
	}
	return p
}
