package journal

import (
	"bytes"
	"context"
	"errors"
	"slices"

	"manobridge/convert"
)

// ErrHeld says that results are kept in memory because they cannot be written now; they are written once there is
// room again, and what does not fit in memory is counted as a gap. Nothing is to be done by the caller.
var ErrHeld = errors.New("results are held in memory: the journal cannot be written")

// ErrNoRoom says that something beside results was not taken because too much is held in memory already.
var ErrNoRoom = errors.New("the journal cannot be written, and too much is held in memory already; it was not recorded")

// ErrClosed says that the journal is closed and took nothing.
var ErrClosed = errors.New("journal is closed")

// Append hands results over and returns when they are durable: nil then, ErrHeld where the disk is full. Where a
// result holds a number that is none, the others are kept, a gap is recorded for it, and the error wraps a
// *RefusedResult for each. When ctx ends first, what was handed over stays handed over.
//
// The results are copied, so the caller may use its slices again.
func (j *Journal) Append(ctx context.Context, results []convert.Result) error {
	if len(results) == 0 {
		return nil
	}
	o := &op{done: make(chan error, 1), results: make([]convert.Result, 0, len(results))}
	var refused []error
	for i := range results {
		r := &results[i]
		if err := check(r); err != nil {
			refused = append(refused, err)
			o.gaps = append(o.gaps, Gap{
				Instrument: r.Instrument, Run: r.Run, Cause: CauseNotKept, FromSeq: r.Seq, UntilSeq: r.Seq,
				From: r.ReceivedAt, Until: r.ReceivedAt, Count: 1, Note: err.Error(),
			})
			continue
		}
		kept := *r
		kept.Frame = bytes.Clone(r.Frame)
		kept.Causes = slices.Clone(r.Causes)
		o.results = append(o.results, kept)
	}
	if err := j.w.hand(o); err != nil {
		return err
	}
	return errors.Join(append(refused, wait(ctx, o))...)
}

func wait(ctx context.Context, o *op) error {
	select {
	case err := <-o.done:
		return err
	case <-ctx.Done():
		return ctx.Err()
	}
}

// do runs f in the next commit and waits until that is durable.
func (j *Journal) do(ctx context.Context, f func(w *writer) error) error {
	o := &op{done: make(chan error, 1), do: f}
	if err := j.w.hand(o); err != nil {
		return err
	}
	return wait(ctx, o)
}

// note hands f over and waits until it is durable: nil then, ErrHeld where that cannot be now; the writer then keeps f and
// runs it when it can, so f must be repeatable.
func (j *Journal) note(ctx context.Context, f func(w *writer) error) error {
	o := &op{done: make(chan error, 1), keep: f}
	if err := j.w.hand(o); err != nil {
		return err
	}
	return wait(ctx, o)
}
