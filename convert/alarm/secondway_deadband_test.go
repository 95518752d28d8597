package alarm_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"manobridge/convert/alarm"
	"manobridge/convert/alarm/secondway"
)

// TestSecondWayDeadband holds the condition of a limit, worked out value by value, against the one by the whole series.
// Values are whole and half numbers, so that many lie on a bound.
func TestSecondWayDeadband(t *testing.T) {
	guards := map[alarm.Decision]float64{alarm.SimpleAcceptance: 0, alarm.GuardedAcceptance: 1, alarm.GuardedRejection: -1}
	for decision, guard := range guards {
		for seed := range uint64(1000) {
			rng := rand.New(rand.NewPCG(seed, 2))
			half := func(n int) float64 { return float64(rng.IntN(n)) / 2 }
			l := alarm.Limits{Low: -2 - half(6), High: 2 + half(6), Deadband: half(4), Decision: decision}
			switch rng.IntN(3) {
			case 0:
				l.Low = math.Inf(-1)
			case 1:
				l.High = math.Inf(1)
			}
			b := secondway.Bounds{Low: l.Low, High: l.High, Deadband: l.Deadband, Guard: guard}
			was := alarm.Unknown // the latest that was known
			var values []secondway.Value
			for i := range 30 {
				v := secondway.Value{V: half(32) - 8, U: half(5)}
				if rng.IntN(6) == 0 {
					v = []secondway.Value{{V: math.NaN(), U: 1}, {V: math.Inf(1), U: 1}, {V: 0, U: math.NaN()}, {V: 0, U: -1}, {V: 0, U: math.Inf(1)}}[rng.IntN(5)]
				}
				values = append(values, v)
				got, want := l.Condition(v.V, v.U, was), alarm.Condition(b.Of(values))
				if got != want {
					t.Fatalf("seed %d, value %d: got %v, want %v\n%+v\n%+v", seed, i, got, want, l, values)
				}
				if got != alarm.Unknown {
					was = got
				}
			}
		}
	}
}
