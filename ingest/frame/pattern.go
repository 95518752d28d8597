package frame

import (
	"fmt"
	"regexp"
)

// pattern reads lines that match a regular expression whole; its named groups are the fields.
type pattern struct {
	re     *regexp.Regexp
	groups []group
	numbers
	addressed bool // an address is among the groups
}

// group is a named group: which one, and the field it holds.
type group struct {
	i    int
	kind field
}

func newPattern(o Options) (*pattern, []error) {
	n, problems := newNumbers(o)
	bad := func(format string, args ...any) { problems = append(problems, fmt.Errorf(format, args...)) }
	if o.Pattern == "" {
		bad("pattern: missing; a regular expression with groups such as (?P<low_mm>[0-9.]+)")
		return nil, problems
	}
	// RE2 runs in time linear in the line, so no pattern can hang the reading of a port.
	re, err := regexp.Compile(`^(?:` + o.Pattern + `)$`)
	if err != nil {
		bad("pattern: %v", err)
		return nil, problems
	}
	p := &pattern{re: re, numbers: n}
	var names []string
	for i, name := range re.SubexpNames() {
		if name == "" {
			continue
		}
		names = append(names, name)
		kind, _ := fieldNamed(name) // an unknown one is reported below
		p.groups = append(p.groups, group{i, kind})
		p.addressed = p.addressed || kind == address
	}
	_, errs := parseFields(names, !o.ChannelsOnly)
	return p, append(problems, errs...)
}

// parse implements lineParser.
func (p *pattern) parse(f *Frame) (ignored bool) {
	p.attribute(f, nil)
	at := p.re.FindSubmatchIndex(f.Raw)
	if at == nil {
		f.refuse(refuseForm(f.Raw, "does not match the pattern", "a line that the configured pattern matches whole"))
		return false
	}
	// The address first, so that what is wrong with another field is told of the right instrument.
	for _, first := range []bool{true, false} {
		for _, g := range p.groups {
			if (g.kind == address) != first {
				continue
			}
			var text []byte
			if from, to := at[2*g.i], at[2*g.i+1]; from >= 0 {
				s := trim(f.Raw, from, to)
				text = f.Raw[s.from:s.to]
			}
			if !p.put(f, g.kind, text, place{name: fieldInfos[g.kind].name}) {
				return false
			}
		}
	}
	return false
}

// attribute implements lineParser. A part of a line matches nothing.
func (p *pattern) attribute(f *Frame, _ []byte) { f.Addressed = !p.addressed }
