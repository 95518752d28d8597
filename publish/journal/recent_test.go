package journal_test

import (
	"context"
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"manobridge/convert"
	"manobridge/convert/quantity"
	"manobridge/publish/publishtest"
)

// What is delivered from memory is what the file holds, whatever the writer gets and from wherever a cursor asks.
func TestRowsInMemoryAreThoseOfTheFile(t *testing.T) {
	j := open(t, file(t), "now")
	ctx := context.Background()
	rapid.Check(t, func(rt *rapid.T) {
		if err := j.Append(ctx, rapid.SliceOfN(publishtest.AnyResult(), 1, 100).Draw(rt, "results")); err != nil {
			rt.Fatal(err)
		}
		after := max(0, j.Last()-rapid.Int64Range(0, 600).Draw(rt, "behind"))
		limit := rapid.IntRange(1, 600).Draw(rt, "limit")
		got, err := j.Rows(ctx, after, limit)
		if err != nil {
			rt.Fatal(err)
		}
		want, err := j.Reader.Rows(ctx, after, limit)
		if err != nil {
			rt.Fatal(err)
		}
		if len(got) != len(want) {
			rt.Fatalf("after %d, at most %d: got %d rows, want the %d of the file", after, limit, len(got), len(want))
		}
		for i := range got {
			if d := publishtest.Difference(got[i].Result, want[i].Result); d != "" || got[i].ID != want[i].ID {
				rt.Fatalf("row %d, %d in the file: %s", got[i].ID, want[i].ID, d)
			}
			if !got[i].ReceivedAt.Equal(want[i].ReceivedAt) {
				rt.Fatalf("row %d: got time %v, want %v as in the file", got[i].ID, got[i].ReceivedAt, want[i].ReceivedAt)
			}
			got[i].Late = true // the rows are the caller's own
		}
	})
}

// So is what an average brings, where a part of it is not a number.
func TestAverageInMemoryIsThatOfTheFile(t *testing.T) {
	j := open(t, file(t), "now")
	ctx := context.Background()
	r := publishtest.Result("now", "suite-a", 1)
	r.Average = &convert.Average{Window: time.Second, Samples: 2, Good: 2, MaxPa: 1}
	r.HighExtra = convert.Extra{U: quantity.Length(math.NaN()), DOF: math.Inf(1)}
	r.LowExtra = convert.Extra{U: 0.25, DOF: math.NaN()}
	if err := j.Append(ctx, []convert.Result{r}); err != nil {
		t.Fatal(err)
	}
	want, err := j.Reader.Rows(ctx, 0, 1) // first: the names it reads are needed for what is in memory
	if err != nil {
		t.Fatal(err)
	}
	got, err := j.Rows(ctx, 0, 1)
	if err != nil {
		t.Fatal(err)
	}
	if d := publishtest.Difference(got[0].Result, want[0].Result); d != "" {
		t.Error(d)
	}
}
