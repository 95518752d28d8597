package journal_test

import (
	"strconv"
	"testing"
	"time"

	"manobridge/publish/publishtest"
)

// Rows are durable when an append returns, strict.
func BenchmarkAppend(b *testing.B) {
	for _, n := range []int{1, 10, 100, 500} {
		b.Run(strconv.Itoa(n), func(b *testing.B) {
			j := open(b, file(b), "now")
			batch := publishtest.Series("now", "suite-a", 1, uint64(n))
			b.ReportAllocs()
			for b.Loop() {
				for i := range batch {
					batch[i].Seq += uint64(n)
					batch[i].ReceivedAt = batch[i].ReceivedAt.Add(time.Second)
				}
				add(b, j, batch...)
			}
			b.ReportMetric(float64(b.N*n)/b.Elapsed().Seconds(), "rows/s")
		})
	}
}

// What a cursor reads: 500 rows out of the file, and out of memory where they have just become durable.
func BenchmarkRows(b *testing.B) {
	j := open(b, file(b), "now")
	add(b, j, publishtest.Series("now", "suite-a", 1, 2000)...)
	for _, from := range []struct {
		name  string
		after int64
		limit int
	}{{"file", 500, 500}, {"file-one", 500, 1}, {"memory-one", j.Last() - 1, 1}, {"memory", j.Last() - 200, 200}} {
		b.Run(from.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				rows, err := j.Rows(b.Context(), from.after, from.limit)
				if err != nil || len(rows) != from.limit {
					b.Fatalf("got %d rows and %v, want %d", len(rows), err, from.limit)
				}
			}
		})
	}
}
