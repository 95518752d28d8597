package alarm

import "slices"

// Group marks which of several alarms came first. The mark never moves while any member is active or waits to be
// acknowledged or reset; members that became active in one evaluation are first together. (ISA-18.2, first-out; common
// practice for the rule of the same cycle.)
type Group struct {
	first  []string
	stands map[string]bool // members that keep the group open
}

// NewGroup makes a group that remembers who was first.
func NewGroup(first []string) *Group {
	return &Group{first: slices.Clone(first), stands: map[string]bool{}}
}

// Cycle takes what all members did in one evaluation, and how they stand after it. It tells whether the mark is new.
func (g *Group) Cycle(happened []Transition, members []*Alarm) bool {
	clear(g.stands)
	for _, a := range members {
		if a.m.Under() != Normal {
			g.stands[a.o.Name] = true
		}
	}
	if len(g.first) > 0 {
		if len(g.stands) == 0 {
			g.first = nil
			return true
		}
		return false
	}
	for _, t := range happened {
		active := func(s State) bool { return s == Unacknowledged || s == Acknowledged }
		if active(t.UnderTo) && !active(t.UnderFrom) && !slices.Contains(g.first, t.Alarm) {
			g.first = append(g.first, t.Alarm)
		}
	}
	slices.Sort(g.first)
	return len(g.first) > 0
}

// First gives who was first, in the order of names; nil while the group is at rest.
func (g *Group) First() []string { return slices.Clone(g.first) }
