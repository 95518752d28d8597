package demo

import (
	"context"
	"testing"
	"testing/synctest"
	"time"
)

func TestClockWaitsForTheMoment(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		start := time.Now()
		wait := clock(start)
		for _, at := range []time.Duration{0, 100 * time.Millisecond, 100 * time.Millisecond, 2 * time.Second} {
			if !wait(t.Context(), at) {
				t.Fatalf("%v: got told to stop", at)
			}
			if got := time.Since(start); got != at {
				t.Errorf("waited until %v, want %v", got, at)
			}
		}
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		if wait(ctx, time.Hour) {
			t.Error("got the moment an hour ahead, want to be told to stop after a second")
		}
		if got := time.Since(start); got != 3*time.Second {
			t.Errorf("stopped after %v, want 3s", got)
		}
	})
}
