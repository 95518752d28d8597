package main

import (
	"context"
	"encoding/json"
	"io"
	"slices"
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

// of tells whether a query asks for something of an instrument that was between two times; the zero time is still going
// on. What belongs to no instrument is asked for where no instrument is named.
func of(q journal.Query, instrument string, from, until time.Time) bool {
	return (len(q.Instruments) == 0 || slices.Contains(q.Instruments, instrument)) &&
		(q.Since.IsZero() || until.IsZero() || !until.Before(q.Since)) &&
		(q.Until.IsZero() || from.Before(q.Until))
}

func timeOrNone(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	t = t.UTC()
	return &t
}

func writeGaps(ctx context.Context, r *journal.Reader, q journal.Query, out io.Writer) error {
	e := json.NewEncoder(out)
	for g, err := range r.EachGap(ctx) {
		if err != nil {
			return err
		}
		if !of(q, g.Instrument, g.From, g.Until) {
			continue
		}
		if err := e.Encode(gapLine{Instrument: g.Instrument, Run: g.Run, Cause: string(g.Cause), From: g.From.UTC(), Until: timeOrNone(g.Until),
			FromSeq: g.FromSeq, UntilSeq: g.UntilSeq, Count: g.Count, Note: g.Note}); err != nil {
			return err
		}
	}
	return nil
}

// eventLine is one event as export prints it.
type eventLine struct {
	Time        time.Time `json:"time"`
	SinceStartS float64   `json:"since_start_s"` // on the monotonic clock
	Run         string    `json:"run"`
	Code        string    `json:"code"`
	Instrument  string    `json:"instrument,omitempty"`
	Note        string    `json:"note,omitempty"`
}

func writeEvents(ctx context.Context, r *journal.Reader, q journal.Query, out io.Writer) error {
	e := json.NewEncoder(out)
	for v, err := range r.EachEvent(ctx) {
		if err != nil {
			return err
		}
		if !of(q, v.Instrument, v.Time, v.Time) {
			continue
		}
		if err := e.Encode(eventLine{Time: v.Time.UTC(), SinceStartS: v.SinceStart.Seconds(), Run: v.Run, Code: v.Code, Instrument: v.Instrument, Note: v.Note}); err != nil {
			return err
		}
	}
	return nil
}

// quarantineLine is one result that was put aside, as export prints it.
type quarantineLine struct {
	Sink       string    `json:"sink"`
	Instrument string    `json:"instrument"`
	Run        string    `json:"run"`
	Seq        uint64    `json:"seq"`
	At         time.Time `json:"at"` // when it was put aside
	Reason     string    `json:"reason"`
}

func writeQuarantined(ctx context.Context, r *journal.Reader, q journal.Query, out io.Writer) error {
	list, err := r.Quarantined(ctx, "")
	if err != nil {
		return err
	}
	e := json.NewEncoder(out)
	for _, v := range list {
		if !of(q, v.Name.Instrument, v.At, v.At) {
			continue
		}
		if err := e.Encode(quarantineLine{Sink: v.Sink, Instrument: v.Name.Instrument, Run: v.Name.Run, Seq: v.Name.Seq, At: v.At.UTC(), Reason: v.Reason}); err != nil {
			return err
		}
	}
	return nil
}

// generationLine is one generation of results computed anew, as export prints it.
type generationLine struct {
	Generation int64      `json:"generation"`
	Tag        string     `json:"tag,omitempty"`
	Made       time.Time  `json:"made"`
	Ended      *time.Time `json:"ended,omitempty"` // left out where it was not finished
	Count      int64      `json:"count"`
	Run        string     `json:"run"`
	Who        string     `json:"who"`
	Why        string     `json:"why"`
	Note       string     `json:"note,omitempty"`
}

func writeGenerations(ctx context.Context, r *journal.Reader, out io.Writer) error {
	list, err := r.Generations(ctx)
	if err != nil {
		return err
	}
	e := json.NewEncoder(out)
	for _, g := range list {
		if err := e.Encode(generationLine{Generation: g.ID, Tag: g.Tag, Made: g.Made.UTC(), Ended: timeOrNone(g.Ended),
			Count: g.Count, Run: g.Run, Who: g.Who, Why: g.Why, Note: g.Note}); err != nil {
			return err
		}
	}
	return nil
}
