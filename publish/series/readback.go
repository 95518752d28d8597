package series

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"manobridge/publish"
)

// few is up to how many rows are asked for one by one. More are asked for by spans of time, which gives the same answer and
// may bring points that nobody asked for.
const few = 64

// span is how many rows of one instrument one question covers at most.
const span = 2000

// at is a point of one instrument as a store gives it back.
type at struct {
	ns  int64
	seq uint64
}

// ReadBack is that of publish.ReadBacker. It asks the store for the sequence number of each row at its exact time, and gives
// the rows that the store does not have. Only that the point is there is looked at, not its other fields.
//
// What kind of store it is, is asked once: InfluxDB 1 is asked in InfluxQL, InfluxDB 2 in Flux, and VictoriaMetrics, which
// keeps whole milliseconds, for an export.
func (s *Sink) ReadBack(ctx context.Context, rows []publish.Row) ([]publish.Row, error) {
	ask, err := s.reader(ctx)
	if err != nil {
		return nil, s.unread(err)
	}
	var missing []publish.Row
	for _, part := range parts(rows) {
		from, until := part[0].ReceivedAt.UnixNano(), part[0].ReceivedAt.UnixNano()
		for i := range part {
			ns := part[i].ReceivedAt.UnixNano()
			from, until = min(from, ns), max(until, ns)
		}
		have, err := ask(ctx, part[0].Instrument, from, until)
		if err != nil {
			return nil, s.unread(err)
		}
		there := make(map[at]bool, len(have))
		for _, p := range have {
			there[p] = true
		}
		for i := range part {
			if ns := part[i].ReceivedAt.UnixNano(); !there[at{ns, part[i].Seq}] && !there[at{ns - ns%1e6, part[i].Seq}] {
				missing = append(missing, part[i])
			}
		}
	}
	slices.SortFunc(missing, func(a, b publish.Row) int { return int(a.ID - b.ID) })
	return missing, nil
}

// parts groups the rows for the questions to be asked: each of one instrument.
func parts(rows []publish.Row) [][]publish.Row {
	var out [][]publish.Row
	if len(rows) <= few {
		for i := range rows {
			out = append(out, rows[i:i+1])
		}
		return out
	}
	of := map[string][]publish.Row{}
	var order []string
	for i := range rows {
		if of[rows[i].Instrument] == nil {
			order = append(order, rows[i].Instrument)
		}
		of[rows[i].Instrument] = append(of[rows[i].Instrument], rows[i])
	}
	for _, name := range order {
		out = slices.AppendSeq(out, slices.Chunk(of[name], span))
	}
	return out
}

// errNoReading tells a store that cannot be asked, as against one that does not answer at the moment.
var errNoReading = errors.New("the store gives nothing back")

func (s *Sink) unread(err error) *publish.DeliverError {
	e := &publish.DeliverError{Class: publish.Transient, Code: "series-unread", Err: fmt.Errorf("read back from %s: %w", s.readHost, err)}
	if errors.Is(err, errNoReading) {
		e.Class = publish.Configuration
	}
	return e
}

// refused makes an error of an answer other than 200.
func refused(resp *http.Response, body []byte) error {
	err := fmt.Errorf("the answer is %s: %s", resp.Status, strings.TrimSpace(string(body[:min(len(body), 300)])))
	if resp.StatusCode >= 500 || resp.StatusCode == http.StatusTooManyRequests || resp.StatusCode == http.StatusRequestTimeout {
		return err
	}
	return fmt.Errorf("%w: %w", errNoReading, err)
}
