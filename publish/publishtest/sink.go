package publishtest

import (
	"context"
	"slices"
	"sync"

	"manobridge/publish"
)

// FaultySink takes rows and fails on command, in every class a real one can.
type FaultySink struct {
	Word string // its name; default "faulty"
	// Answer, where not nil, decides on each delivery. Rows before the Acked of the error it returns are taken.
	// It is called from two goroutines, one at a time.
	Answer func(ctx context.Context, batch []publish.Row) *publish.DeliverError

	mu      sync.Mutex
	live    []publish.Row
	late    []publish.Row
	tries   int
	largest int
	mixed   bool
}

// Name is that of publish.Sink.
func (s *FaultySink) Name() string {
	if s.Word == "" {
		return "faulty"
	}
	return s.Word
}

// Deliver is that of publish.Sink.
func (s *FaultySink) Deliver(ctx context.Context, batch []publish.Row) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.tries++
	s.largest = max(s.largest, len(batch))
	for i := range batch {
		s.mixed = s.mixed || batch[i].Late != batch[0].Late
	}
	var err *publish.DeliverError
	if s.Answer != nil {
		err = s.Answer(ctx, batch)
	}
	taken := batch
	if err != nil {
		taken = batch[:err.Acked]
	}
	if len(batch) > 0 && batch[0].Late {
		s.late = append(s.late, taken...)
	} else {
		s.live = append(s.live, taken...)
	}
	if err == nil {
		return nil
	}
	return err
}

// Change runs f while no delivery is under way, for what Answer shares with the test.
func (s *FaultySink) Change(f func()) {
	s.mu.Lock()
	defer s.mu.Unlock()
	f()
}

// Live gives the rows taken as live ones, in their order.
func (s *FaultySink) Live() []publish.Row {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Clone(s.live)
}

// Late gives the rows taken as late ones, in their order.
func (s *FaultySink) Late() []publish.Row {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Clone(s.late)
}

// Tries tells how many deliveries were tried, and how many rows the largest had.
func (s *FaultySink) Tries() (deliveries, largest int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.tries, s.largest
}

// Mixed tells whether a batch held live and late rows.
func (s *FaultySink) Mixed() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.mixed
}
