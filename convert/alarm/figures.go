package alarm

import (
	"cmp"
	"slices"
	"time"
)

// Annunciation is one call for a person, as kept on record. Acknowledgements, returns, shelving and diagnostics are none.
type Annunciation struct {
	Alarm    string
	Priority string
	At       time.Time
	// Cleared is when the condition had gone, Acknowledged when somebody had seen it; zero for not yet.
	Cleared, Acknowledged time.Time
}

// The published figures that Figures are held against. Source: IEC 62682:2014 and ANSI/ISA-18.2-2016, clause on monitoring
// (from memory, as commonly quoted): for one operator, over at least 30 days.
const (
	RateWanted    = 1.0  // annunciations per 10 min on average
	RateCeiling   = 2.0  // manageable
	FloodStart    = 10   // more than that in 10 min
	FloodEnd      = 5    // fewer than that in 10 min
	FloodShare    = 0.01 // of the time at most
	StaleAfter    = 24 * time.Hour
	StaleWanted   = 5    // fewer than that on any day
	TopTenShare   = 0.05 // of the load at most
	ChatterCount  = 3    // activations of one alarm within a minute
	ChatterWithin = time.Minute
	FleetingUnder = 5 * time.Second // "seconds"; the number is our choice
	FiguresOver   = 30 * 24 * time.Hour
)

// Count is how often one alarm was annunciated.
type Count struct {
	Alarm string
	N     int
}

// Figures are how the alarms of one place did over a time.
type Figures struct {
	From, Until   time.Time
	Annunciations int
	PerTenMinutes float64 // on average
	Peak          int     // most in any 10 min
	FloodTime     time.Duration
	FloodShare    float64
	Chattering    []Count // alarms with ChatterCount activations within ChatterWithin, and how often they did so
	Fleeting      []Count // gone within FleetingUnder, before anybody acknowledged
	Stale         []Count // active for more than StaleAfter
	TopTen        []Count
	TopTenShare   float64
	Priorities    []Count // by priority, the most frequent first
}

// FiguresOf works them out of annunciations between two times.
func FiguresOf(all []Annunciation, from, until time.Time) Figures {
	f := Figures{From: from, Until: until}
	in := make([]Annunciation, 0, len(all))
	stale := map[string]int{}
	for _, a := range all {
		if end := a.Cleared; !a.At.After(until) {
			if end.IsZero() || end.After(until) {
				end = until
			}
			if end.After(from) && end.Sub(a.At) > StaleAfter {
				stale[a.Alarm]++
			}
		}
		if !a.At.Before(from) && !a.At.After(until) {
			in = append(in, a)
		}
	}
	slices.SortStableFunc(in, func(a, b Annunciation) int { return a.At.Compare(b.At) })
	f.Annunciations = len(in)
	if span := until.Sub(from); span > 0 {
		f.PerTenMinutes = float64(len(in)) / (span.Minutes() / 10)
	}
	f.Peak, f.FloodTime = floods(in, until)
	if span := until.Sub(from); span > 0 {
		f.FloodShare = f.FloodTime.Seconds() / span.Seconds()
	}
	byAlarm, byPriority, fleeting := map[string]int{}, map[string]int{}, map[string]int{}
	times := map[string][]time.Time{}
	for _, a := range in {
		byAlarm[a.Alarm]++
		byPriority[a.Priority]++
		times[a.Alarm] = append(times[a.Alarm], a.At)
		gone := !a.Cleared.IsZero() && a.Cleared.Sub(a.At) < FleetingUnder
		if gone && (a.Acknowledged.IsZero() || a.Acknowledged.After(a.Cleared)) {
			fleeting[a.Alarm]++
		}
	}
	f.Chattering, f.Fleeting, f.Stale = counts(chattering(times)), counts(fleeting), counts(stale)
	f.Priorities = counts(byPriority)
	f.TopTen = counts(byAlarm)
	f.TopTen = f.TopTen[:min(10, len(f.TopTen))]
	for _, c := range f.TopTen {
		f.TopTenShare += float64(c.N)
	}
	if len(in) > 0 {
		f.TopTenShare /= float64(len(in))
	}
	return f
}

// floods gives the most annunciations in any 10 min, and for how long a flood lasted: from the moment when there were more
// than FloodStart within the 10 min before, until there are fewer than FloodEnd.
func floods(in []Annunciation, until time.Time) (peak int, flood time.Duration) {
	const window = 10 * time.Minute
	first, since := 0, time.Time{}
	for i := range in {
		// Between two annunciations the count only falls, as earlier ones leave the window one by one.
		for ; !in[first].At.Add(window).After(in[i].At); first++ {
			if !since.IsZero() && i-first-1 < FloodEnd {
				flood += in[first].At.Add(window).Sub(since)
				since = time.Time{}
			}
		}
		n := i - first + 1
		peak = max(peak, n)
		if since.IsZero() && n > FloodStart {
			since = in[i].At
		}
	}
	for ; !since.IsZero(); first++ {
		if len(in)-first-1 < FloodEnd {
			end := in[first].At.Add(window)
			if end.After(until) {
				end = until
			}
			return peak, flood + end.Sub(since)
		}
	}
	return peak, flood
}

// chattering counts, per alarm, the separate minutes in which it came ChatterCount times.
func chattering(times map[string][]time.Time) map[string]int {
	out := map[string]int{}
	for name, at := range times {
		for i := 0; i+ChatterCount <= len(at); {
			if at[i+ChatterCount-1].Sub(at[i]) > ChatterWithin {
				i++
				continue
			}
			out[name]++
			start := at[i]
			for i < len(at) && at[i].Sub(start) <= ChatterWithin {
				i++
			}
		}
	}
	return out
}

// counts orders by number, then by name.
func counts(of map[string]int) []Count {
	out := make([]Count, 0, len(of))
	for name, n := range of {
		out = append(out, Count{name, n})
	}
	slices.SortFunc(out, func(a, b Count) int {
		return cmp.Or(cmp.Compare(b.N, a.N), cmp.Compare(a.Alarm, b.Alarm))
	})
	return out
}
