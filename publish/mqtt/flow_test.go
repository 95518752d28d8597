package mqtt

import (
	"testing"
	"time"
)

// A broker that answers soon gets more at a time, up to the most; one that takes long gets less, not below the least; and what
// was not held up by the flow, or was sent before it became smaller, changes nothing.
func TestFlowFollowsTheAnswers(t *testing.T) {
	const soon, long = 10 * time.Millisecond, 40 * time.Millisecond
	f := newFlow(100, soon, long)
	answers := func(n int, after time.Duration, under int) {
		for range n {
			f.answered(after, under)
		}
	}
	expect := func(what string, want int) {
		t.Helper()
		if f.size != want {
			t.Errorf("%s: got %d messages at a time, want %d", what, f.size, want)
		}
	}
	expect("at the start", leastFlow)
	answers(1000, soon, 1)
	expect("answered soon, with little under way", leastFlow)
	answers(10, soon, leastFlow)
	expect("ten soon, with all of it under way", leastFlow+10)
	answers(1000, soon, 100)
	expect("many soon", 100)
	answers(1000, soon+1, 100)
	expect("neither soon nor long", 100)
	answers(1, long+1, 100)
	expect("the first that took long", 50)
	answers(50, long+1, 100)
	expect("those that were sent with it", 50)
	answers(1, long+1, 50)
	expect("one sent after it", leastFlow)
	answers(1000, long+1, 50)
	expect("many that took long", leastFlow)

	if few := newFlow(8, soon, long); few.size != 8 {
		t.Errorf("got %d messages at a time, want no more than the most, 8", few.size)
	}
}
