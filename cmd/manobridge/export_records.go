package main

import (
	"context"
	"encoding/json"
	"io"
	"time"

	"manobridge/publish/journal"
)

// gapLine is one recorded gap as export prints it.
type gapLine struct {
	Instrument string     `json:"instrument"`
	Run        string     `json:"run"`
	Cause      string     `json:"cause"`
	From       time.Time  `json:"from"`
	Until      *time.Time `json:"until,omitempty"` // left out while it lasts
	FromSeq    uint64     `json:"from_seq,omitempty"`
	UntilSeq   uint64     `json:"until_seq,omitempty"`
	Count      int64      `json:"count,omitempty"` // left out where nobody can know
	Note       string     `json:"note,omitempty"`
}

func writeGaps(ctx context.Context, r *journal.Reader, out io.Writer) error {
	list, err := r.Gaps(ctx)
	if err != nil {
		return err
	}
	e := json.NewEncoder(out)
	for _, g := range list {
		line := gapLine{Instrument: g.Instrument, Run: g.Run, Cause: string(g.Cause), From: g.From.UTC(), FromSeq: g.FromSeq, UntilSeq: g.UntilSeq, Count: g.Count, Note: g.Note}
		if !g.Until.IsZero() {
			until := g.Until.UTC()
			line.Until = &until
		}
		if err := e.Encode(line); err != nil {
			return err
		}
	}
	return nil
}
