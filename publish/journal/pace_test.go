package journal

import (
	"testing"
	"time"
)

// 100 results a second are each committed at once, also after a second of 1000; of 1000 a second none waits longer than the
// spacing, and a heap does not wait.
func TestPaceOfCommits(t *testing.T) {
	now := time.Date(2025, 3, 1, 9, 0, 0, 0, time.UTC)
	var p pace
	for range 250 {
		if d := p.rest(now, 1); d > 0 {
			t.Fatalf("got a rest of %v with 100 results a second, want none", d)
		}
		p.begin(now, 1)
		now = now.Add(10 * time.Millisecond)
	}
	commits := 0
	for range 3000 {
		d := p.rest(now, 1)
		if d > spacing {
			t.Fatalf("got a rest of %v, want at most %v", d, spacing)
		}
		if d <= 0 {
			commits++
		}
		if d := p.rest(now, heap); d > 0 {
			t.Fatalf("got a rest of %v with %d results waiting, want none", d, heap)
		}
		if d <= 0 {
			p.begin(now, 20)
		}
		now = now.Add(time.Millisecond)
	}
	if commits > 2000 || commits < 150 {
		t.Errorf("got %d commits of 3000 results in 3 s, want one for each in the first second or two, and then 50 a second", commits)
	}
	now = now.Add(5 * time.Second)
	p.begin(now, 1)
	if d := p.rest(now, 1); d > 0 {
		t.Errorf("got a rest of %v after quiet, want none", d)
	}
}
