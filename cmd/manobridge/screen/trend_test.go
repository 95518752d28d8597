package screen

import (
	"math"
	"testing"
	"time"
)

func TestTrend(t *testing.T) {
	type point struct {
		at    time.Duration
		pa, u float64
	}
	seconds := func(u float64, pas ...float64) (points []point) {
		for i, pa := range pas {
			points = append(points, point{time.Duration(i) * time.Second, pa, u})
		}
		return points
	}
	tests := []struct {
		name   string
		points []point
		at     time.Duration
		want   string
	}{
		{"nothing", nil, 5 * time.Second, "       "},
		{"rising over the whole height", seconds(0.1, 0, 10, 20, 30, 40, 50, 60), 6 * time.Second, "▁▂▃▅▆▇█"},
		{"falling", seconds(0.1, 60, 50, 40, 30, 20, 10, 0), 6 * time.Second, "█▇▆▅▃▂▁"},
		{"within the uncertainty it is flat", seconds(10, 100, 101, 100, 101, 100, 101, 100), 6 * time.Second, "▄▅▄▅▄▅▄"},
		{"no uncertainty, no change", seconds(0, 5, 5, 5), 2 * time.Second, "    ▅▅▅"},
		{"a gap stays a gap", seconds(1, 0, 100, math.NaN(), 100), 3 * time.Second, "   ▁█ █"},
		{"it moves on without values", seconds(1, 0, 100), 4 * time.Second, "  ▁█   "},
		{"long silence empties it", seconds(1, 0, 100), 1000 * time.Hour, "       "},
		{"a step shows its mean", []point{{0, 0, 1}, {100 * time.Millisecond, 100, 1}, {time.Second, 100, 1}, {2 * time.Second, 0, 1}}, 2 * time.Second, "    ▅█▁"},
	}
	for _, tt := range tests {
		tr := trend{step: time.Second}
		for _, p := range tt.points {
			tr.add(p.pa, p.u, p.at)
		}
		if got := tr.marks(tt.at); got != tt.want {
			t.Errorf("%s: got %q, want %q", tt.name, got, tt.want)
		}
	}
}
