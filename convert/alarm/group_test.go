package alarm

import (
	"slices"
	"testing"
	"time"
)

func TestFirstOut(t *testing.T) {
	make3 := func() (*Group, []*Alarm) {
		var members []*Alarm
		for _, name := range []string{"a", "b", "c"} {
			m, err := New(Options{Name: name}, Memory{}, 0)
			if err != nil {
				t.Fatal(err)
			}
			members = append(members, m)
		}
		return NewGroup(nil), members
	}
	cycle := func(g *Group, members []*Alarm, at time.Duration, present string) {
		var ts []Transition
		for _, m := range members {
			c := Absent
			if slices.Contains([]byte(present), m.Name()[0]) {
				c = Present
			}
			ts = append(ts, m.Evaluate(at, c)...)
		}
		g.Cycle(ts, members)
	}
	g, m := make3()
	cycle(g, m, 1, "")
	cycle(g, m, 2, "bc") // joint firsts
	cycle(g, m, 3, "abc")
	if got := g.First(); !slices.Equal(got, []string{"b", "c"}) {
		t.Fatalf("got %v, want b and c first together (ISA-18.2, first-out)", got)
	}
	cycle(g, m, 4, "a") // those that were first have gone; the mark stays
	if got := g.First(); !slices.Equal(got, []string{"b", "c"}) {
		t.Fatalf("got %v, want the mark unmoved", got)
	}
	cycle(g, m, 5, "")
	for _, one := range m {
		if _, err := one.Acknowledge(5, 0); err != nil {
			t.Fatal(err)
		}
	}
	cycle(g, m, 6, "")
	if got := g.First(); got != nil {
		t.Fatalf("got %v, want no mark at rest", got)
	}
	cycle(g, m, 7, "a")
	if got := g.First(); !slices.Equal(got, []string{"a"}) {
		t.Fatalf("got %v, want a", got)
	}
	if kept := NewGroup(g.First()); !slices.Equal(kept.First(), []string{"a"}) {
		t.Error("the mark did not survive a restart")
	}
}
