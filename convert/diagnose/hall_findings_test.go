package diagnose

import (
	"os"
	"slices"
	"testing"
	"time"

	"manobridge/convert"
)

// Healthy weeks with doors, a fan that is turned down at night and a day's temperature: what is found then is false.
// The aim is at most one an instrument-month. Two halls for 3 days by default, a year of them with MANOBRIDGE_LONG=1.
func TestHealthyInstrumentHasNoFindings(t *testing.T) {
	halls, days := 2, 3
	if os.Getenv("MANOBRIDGE_LONG") != "" {
		halls, days = 12, 30
	}
	sum := 0
	for seed := range halls {
		b := newBench(t, uint64(seed), Options{})
		last := map[convert.Cause]bool{}
		for range days * 86400 {
			now := map[convert.Cause]bool{}
			for _, f := range b.second() {
				now[f.Code] = true
				if !last[f.Code] {
					sum++
					t.Logf("hall %d, day %.2f: %s: %s", seed, float64(b.s)/86400, f.Code, f.Seen)
				}
			}
			last = now
		}
	}
	months := float64(halls*days) / 30
	t.Logf("%d false findings in %.1f instrument-months", sum, months)
	if float64(sum) > max(months, 1) {
		t.Errorf("got %d false findings in %.1f instrument-months, want at most 1 a month", sum, months)
	}
}

// A bubble of 1 mm in each limb, at different times of the day: found within a minute.
func TestBubbleIsFound(t *testing.T) {
	var delays []time.Duration
	for i := range 12 {
		b := newBench(t, uint64(100+i), Options{})
		for range 3600 + i*1700 {
			b.second()
		}
		b.h.bubbleMM = 1
		d, found := b.until(convert.ColumnBroken, 10*time.Minute)
		if !found {
			t.Errorf("trial %d: the bubble was not found in 10 min", i)
			continue
		}
		delays = append(delays, d)
		// It stays until it is gone, and then goes.
		for range 600 {
			if f := b.second(); !slices.ContainsFunc(f, func(f Finding) bool { return f.Code == convert.ColumnBroken }) {
				t.Fatalf("trial %d: the bubble was forgotten", i)
			}
		}
		b.h.bubbleMM = 0
		for range 120 {
			b.second()
		}
		if f := b.second(); slices.ContainsFunc(f, func(f Finding) bool { return f.Code == convert.ColumnBroken }) {
			t.Errorf("trial %d: the bubble is gone and still found", i)
		}
	}
	slices.Sort(delays)
	t.Logf("bubble of 1 mm found after %v to %v", delays[0], delays[len(delays)-1])
	if delays[len(delays)-1] > time.Minute {
		t.Errorf("got %v, want at most a minute", delays)
	}
}

// A loss of 1 % of the liquid, at once and over a day: found within a day. 1 % is 3.06 mm of both limbs here, U of the
// balance 0.1 mm.
func TestLossIsFound(t *testing.T) {
	for name, lose := range map[string]func(b *bench, s int){
		"at once":    func(b *bench, s int) { b.h.lostShare = 0.01 },
		"over a day": func(b *bench, s int) { b.h.lostShare = 0.01 * float64(s) / 86400 },
	} {
		b := newBench(t, 7, Options{})
		for range 3 * 3600 {
			b.second()
		}
		found := 0
		for s := 1; s <= 86400 && found == 0; s++ {
			lose(b, s)
			for _, f := range b.second() {
				if f.Code == convert.LiquidLow {
					found = s
				}
			}
		}
		if found == 0 {
			t.Errorf("%s: 1 %% of the liquid was not missed in a day", name)
			continue
		}
		t.Logf("%s: found after %v", name, time.Duration(found)*time.Second)
	}
}
