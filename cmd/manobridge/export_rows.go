package main

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"iter"
	"strconv"
	"strings"
	"time"

	"manobridge/convert"
	"manobridge/convert/quantity"
	"manobridge/publish"
	"manobridge/publish/journal"
)

// exportedRows are the rows that an export prints: without the samples, unless they are asked for. A row that cannot be
// read back is named and passed over.
type exportedRows struct {
	all        iter.Seq2[publish.Row, error]
	generation int64 // 0: the first results
	samples    bool
	log        io.Writer
	unread     int
}

// each calls f for every row.
func (e *exportedRows) each(f func(row *publish.Row) error) error {
	for row, err := range e.all {
		var bad *journal.UndecodableRow
		switch {
		case errors.As(err, &bad):
			e.unread++
			fmt.Fprintf(e.log, "manobridge: %v\n", bad)
			continue
		case err != nil:
			return err
		case row.Sample && !e.samples:
			continue
		}
		if err := f(&row); err != nil {
			return err
		}
	}
	return nil
}

func (e *exportedRows) outcome() error {
	if e.unread == 0 {
		return nil
	}
	return fmt.Errorf("%d results could not be read back and are not in the output; keep a copy of the journal and check the disk", e.unread)
}

// recomputed gives the results of a generation as rows.
func recomputed(ctx context.Context, r *journal.Reader, generation int64, q journal.Query) iter.Seq2[publish.Row, error] {
	return func(yield func(publish.Row, error) bool) {
		for v, err := range r.Recomputed(ctx, generation, q) {
			if !yield(publish.Row{ID: v.Row, Result: v.Result}, err) {
				return
			}
		}
	}
}

// generation finds one by its number, or the latest of a tag.
func generation(ctx context.Context, r *journal.Reader, name string) (journal.Generation, error) {
	list, err := r.Generations(ctx)
	if err != nil {
		return journal.Generation{}, err
	}
	for i := len(list) - 1; i >= 0; i-- {
		if strconv.FormatInt(list[i].ID, 10) == name || list[i].Tag == name {
			return list[i], nil
		}
	}
	return journal.Generation{}, fmt.Errorf("generation %q is not in the journal; --generations lists them", name)
}

func writeLines(rows *exportedRows, site string, out io.Writer) error {
	var buf []byte
	return rows.each(func(row *publish.Row) error {
		p := publish.NewMessage(site, &row.Result)
		buf = p.Append(buf[:0])
		buf = buf[:len(buf)-1] // the closing brace: what follows is no part of a message
		if row.Sample {
			buf = append(buf, `,"sample":true`...)
		}
		if rows.generation > 0 {
			buf = append(buf, `,"generation":`...)
			buf = strconv.AppendInt(buf, rows.generation, 10)
		}
		_, err := out.Write(append(buf, "}\n"...))
		return err
	})
}

func writeCSV(rows *exportedRows, _ string, out io.Writer) error {
	w := csv.NewWriter(out)
	header := []string{"time", "instrument", "run", "seq", "high_mm", "low_mm", "pressure_pa", "expanded_uncertainty_pa", "coverage_factor",
		"head_mm", "temperature_c", "status", "status_code", "ne107", "causes", "config", "frame",
		"sample", "samples", "good_samples", "min_pa", "max_pa", "sd_pa"}
	if err := w.Write(header); err != nil {
		return err
	}
	if err := rows.each(func(row *publish.Row) error { return w.Write(csvRecord(row)) }); err != nil {
		return err
	}
	w.Flush()
	return w.Error()
}

func csvRecord(row *publish.Row) []string {
	num := func(v convert.Optional[float64]) string {
		if !v.Set {
			return ""
		}
		return strconv.FormatFloat(v.V, 'g', -1, 64)
	}
	mm := func(v convert.Optional[quantity.Length]) string {
		return num(convert.Optional[float64]{V: v.V.Millimetres(), Set: v.Set})
	}
	p := publish.NewPayload(&row.Result)
	pa := p.DifferentialPressurePa
	if row.Kind == convert.AbsoluteValue {
		pa = p.AbsolutePressurePa
	}
	causes := make([]string, len(row.Causes))
	for i, cause := range row.Causes {
		causes[i] = string(cause)
	}
	record := []string{
		row.ReceivedAt.UTC().Format(time.RFC3339Nano), row.Instrument, row.Run, strconv.FormatUint(row.Seq, 10),
		mm(row.High), mm(row.Low), num(pa), num(p.ExpandedUncertaintyPa), num(p.CoverageFactor), num(p.HeadMM), num(p.TemperatureC),
		row.Status.String(), strconv.FormatUint(uint64(row.StatusCode), 10), string(row.NE107), strings.Join(causes, " "), row.Config,
		strconv.QuoteToASCII(string(row.Frame)), strconv.FormatBool(row.Sample),
	}
	if row.Average == nil {
		return append(record, "", "", "", "", "")
	}
	a := row.Average
	finite := func(v float64, ok bool) string { return num(convert.Optional[float64]{V: v, Set: ok}) }
	return append(record, strconv.Itoa(a.Samples), strconv.Itoa(a.Good),
		finite(a.MinPa, a.Good > 0), finite(a.MaxPa, a.Good > 0), finite(a.SDPa, a.Good > 1))
}
