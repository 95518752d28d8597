package bridge

import (
	"context"
	"fmt"

	"manobridge/publish"
)

// dropped records that a far end does not have what it has acknowledged.
func (b *Bridge) dropped(d publish.Dropped) {
	e := b.now("row-dropped", fmt.Sprintf("%s acknowledged and dropped %d of the results asked for; all of rows %d to %d are sent again",
		d.Sink, d.Rows, d.After+1, d.Until))
	if d.Again {
		e.Code = "row-dropped-again"
		e.Note = fmt.Sprintf("%s acknowledged and dropped %d results of rows %d to %d again; they are named in quarantine",
			d.Sink, d.Rows, d.After+1, d.Until)
	}
	e.Instrument = d.Row.Instrument
	_ = b.noted(b.journal.RecordEvent(context.Background(), e), "event", e.Code) // the loop meets a closed journal too
}
