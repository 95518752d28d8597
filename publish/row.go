package publish

import (
	"context"
	"time"

	"manobridge/convert"
)

// Row is one result as the journal keeps it.
type Row struct {
	// ID is the place in the journal. It only ever grows, it is what cursors follow, and it is never used again.
	ID int64
	convert.Result
	// Late is set by the outbox for a row that must not be shown as a live value.
	Late bool
	// FreshUntil is set by the outbox for a live row: after it the row must not be sent as a live value any more, and
	// Deliver ends with Stale. Zero: no bound.
	FreshUntil time.Time
}

// Range is the rows with From < ID ≤ Until.
type Range struct{ From, Until int64 }

// Cursor says what one sink still has to get: every row after Live, and every row of Late.
type Cursor struct {
	Live int64
	Late []Range // ascending, disjoint, not empty ones
}

// Rows is what an Outbox needs of the journal. Its methods are safe for concurrent use.
type Rows interface {
	// Last is the ID of the newest durable row, 0 where there is none.
	Last() int64
	// Wait blocks until Last is greater than after, or ctx is done.
	Wait(ctx context.Context, after int64) error
	// Rows gives up to limit rows with ID > after, ascending.
	Rows(ctx context.Context, after int64, limit int) ([]Row, error)

	// Cursor gives what SaveCursor last made durable for that sink, and whether there is one.
	Cursor(ctx context.Context, sink string) (Cursor, bool, error)
	SaveCursor(ctx context.Context, sink string, c Cursor) error
	// Quarantine makes durable that the row was not delivered to the sink, and why.
	Quarantine(ctx context.Context, sink string, row int64, reason string) error
}

// Sink is a far end that takes results.
type Sink interface {
	// Name is a short stable word for the log and for the cursor: "mqtt", "series".
	Name() string
	// Deliver returns nil only after the far end has acknowledged every row. Where it fails the error is, or wraps,
	// a *DeliverError; any other error counts as Transient with nothing acknowledged. A batch holds either live or
	// late rows, never both. Deliver is called from two goroutines, one for each lane.
	Deliver(ctx context.Context, batch []Row) error
}

// Readier is a Sink that holds a connection. Ready blocks until it is up, or ctx is done.
type Readier interface {
	Ready(ctx context.Context) error
}

// Class says what a failed delivery means for the rows in it.
type Class uint8

// The classes.
const (
	// Transient: the link or the far end is down or busy; the same rows are tried again.
	Transient Class = iota
	// Configuration: the far end does not let us in; the cursor is held until a person acts, nothing is skipped.
	Configuration
	// Content: the far end took the request and refuses what is in it; the one row is searched and put aside.
	Content
	// Suspect: the link had just been proved good and was lost with these rows on it. One loss is an accident; the
	// same single row every time is a poison row.
	Suspect
	// Stale: live rows became late while they waited to be sent; they are delivered as late ones, at once.
	Stale
)

// DeliverError says how much of a batch was acknowledged before the delivery failed, and why it failed.
type DeliverError struct {
	Acked int           // rows acknowledged, counted from the start of the batch
	Class Class         //
	Code  string        // stable code for the log, as "store-refused"
	After time.Duration // the far end asked for this pause; 0 when it did not
	Err   error
}

// Error gives the cause.
func (e *DeliverError) Error() string { return e.Err.Error() }

// Unwrap gives the cause.
func (e *DeliverError) Unwrap() error { return e.Err }
