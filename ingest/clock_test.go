package ingest

import (
	"testing"
	"testing/synctest"
	"time"
)

// The arithmetic of a sleep: an hour, then half a second, on top of a lead of two hours that was there before the start;
// readings of the two clocks that come out short by a hold-up of this program, or not at all, take nothing back.
func TestSleepCounts(t *testing.T) {
	lead, ok := 2*time.Hour, true
	s := &sleep{lead: func() (time.Duration, bool) { return lead, ok }, base: lead}
	for i, step := range []struct {
		lead time.Duration
		ok   bool
		want time.Duration
	}{
		{2 * time.Hour, true, 0},
		{2*time.Hour + 9*time.Millisecond, true, 0}, // inexact
		{2*time.Hour - 30*time.Second, true, 0},     // held up
		{3 * time.Hour, true, time.Hour},
		{3*time.Hour - time.Minute, true, time.Hour},
		{3*time.Hour + 5*time.Millisecond, true, time.Hour},
		{0, false, time.Hour},
		{3*time.Hour + 500*time.Millisecond, true, time.Hour + 500*time.Millisecond},
	} {
		if lead, ok = step.lead, step.ok; s.slept() != step.want {
			t.Errorf("step %d: got %v slept, want %v", i+1, s.slept(), step.want)
		}
	}
}

// The base may come out short where the program was held up at the start. Then the first look makes good for it, and so
// once: the clock jumps by the hold-up and never runs backward.
func TestSleepNeverRunsBackward(t *testing.T) {
	leads := []time.Duration{100, 99 * time.Second, 100 * time.Second, 40 * time.Second, 101 * time.Second}
	i := -1
	s := &sleep{lead: func() (time.Duration, bool) { i++; return leads[i], true }, base: leads[0]}
	var before time.Duration
	for range leads {
		now := s.slept()
		if now < before {
			t.Errorf("got %v after %v, want it never to run backward", now, before)
		}
		before = now
	}
	if before != 101*time.Second-100 {
		t.Errorf("got %v, want 101 s less 100 ns", before)
	}
}

// Awake, the clock runs at the pace of the timers, to the nanosecond under a synctest clock.
func TestClockRunsWithTimersWhileAwake(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := SystemClock(time.Now())
		for range 5 {
			<-time.After(time.Minute)
		}
		if got := c.SinceStart(); got != 5*time.Minute {
			t.Errorf("got %v since the start, want 5 min exactly", got)
		}
		if c.Slept != nil && c.Slept() != 0 {
			t.Errorf("got %v slept, want none", c.Slept())
		}
	})
}
