package journal

import (
	"context"
	"errors"

	"manobridge/publish"
)

// QuarantineNobody is the sink under which a row stands that cannot be read back, so that no sink gets it.
const QuarantineNobody = "journal"

// Rows is Reader.Rows for delivery: a row that cannot be read back must not hold every sink for ever. It is put aside
// for all of them, with the reason, and passed over. Where that cannot be made durable the error stays, and nothing is
// passed over.
func (j *Journal) Rows(ctx context.Context, after int64, limit int) ([]publish.Row, error) {
	if rows := j.recentRows(after, limit); len(rows) > 0 {
		return rows, ctx.Err()
	}
	for {
		rows, err := j.Reader.Rows(ctx, after, limit)
		var bad *UndecodableRow
		if !errors.As(err, &bad) || len(rows) > 0 {
			if bad != nil {
				err = nil // it is met again as the first of the next rows
			}
			return rows, err
		}
		if err := j.Quarantine(ctx, QuarantineNobody, bad.ID, bad.Err.Error()); err != nil {
			return nil, errors.Join(bad, err)
		}
		j.opt.Logger.Error("a result in the journal cannot be read back; it is put aside for all sinks and delivery goes on; "+
			"keep a copy of the file and check the disk", "code", "row-undecodable", "row", bad.ID, "reason", bad.Err.Error())
		after = bad.ID
	}
}
