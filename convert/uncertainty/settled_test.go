package uncertainty

import (
	"math"
	"testing"
)

func TestPropagateSettled(t *testing.T) {
	in := []Distribution{Normal(10, 3), Normal(0, 4)}
	const delta = 0.1 // of u = 5
	e, settled, err := PropagateSettled(sum, in, nil, testSeed, 0.95, delta)
	if err != nil || !settled {
		t.Fatalf("got settled %v, %v, want a settled estimate", settled, err)
	}
	near(t, "mean", e.Mean, 10, 2*delta, "exact; settled to two standard errors, allowed four")
	near(t, "u", e.StdU, 5, 2*delta, "exact, 3-4-5 triangle")
	near(t, "low", e.Low, 10-1.959964*5, 2*delta, "exact")
	near(t, "high", e.High, 10+1.959964*5, 2*delta, "exact")
	finer, settled, err := PropagateSettled(sum, in, nil, testSeed, 0.95, delta/2)
	if err != nil || !settled || finer.Draws <= e.Draws {
		t.Errorf("half the tolerance: got %d draws (settled %v, %v), want more than %d", finer.Draws, settled, err, e.Draws)
	}
	a, err := Agree(10, 5, 5*coverage(t, 0.95).K(math.Inf(1)), finer, 1)
	if err != nil || !a.Validated {
		t.Errorf("got %+v, %v, want agreement: the model is linear and the inputs normal", a, err)
	}

	// Fully correlated: 3 + 4, and the draws stay joint from batch to batch.
	e, settled, err = PropagateSettled(sum, in, []Correlation{{0, 1, 1}}, testSeed, 0.95, delta)
	if err != nil || !settled {
		t.Fatalf("got settled %v, %v, want a settled estimate", settled, err)
	}
	near(t, "u, fully correlated", e.StdU, 7, 2*delta, "exact")

	for _, bad := range []float64{0, -1, math.NaN()} {
		if _, _, err := PropagateSettled(sum, in, nil, 1, 0.95, bad); err == nil {
			t.Errorf("tolerance %v: got no error, want a refusal", bad)
		}
	}
	if _, _, err := PropagateSettled(sum, in, nil, 1, 2, delta); err == nil {
		t.Error("p = 2: got no error, want a refusal")
	}
	sqrt := func(x []float64) (float64, error) { return math.Sqrt(x[1]), nil }
	if _, _, err := PropagateSettled(sqrt, in, nil, 1, 0.95, delta); err == nil {
		t.Error("root of a negative: got no error, want a refusal")
	}
}
