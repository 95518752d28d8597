package series

import (
	"context"
	"fmt"

	"github.com/influxdata/influxdb-client-go/v2/api/write"

	"manobridge/publish"
)

// Generation writes results that were computed again, each point with one more tag, so that it stands beside the first
// result in the store and never in its place. It is safe for concurrent use.
type Generation struct {
	*Sink
	tag string
}

// NewGeneration makes a sink for the results of one generation. It opens no connection.
func NewGeneration(opt Options, tag string) (*Generation, error) {
	if !word.MatchString(tag) {
		return nil, fmt.Errorf("series: generation %q; allowed: letters, digits, _ . -", tag)
	}
	s, err := New(opt)
	if err != nil {
		return nil, err
	}
	return &Generation{s, tag}, nil
}

// Deliver is that of publish.Sink.
func (g *Generation) Deliver(ctx context.Context, batch []publish.Row) error {
	for done := 0; done < len(batch); done += Largest {
		points := make([]*write.Point, 0, Largest)
		for i := done; i < min(len(batch), done+Largest); i++ {
			p, err := g.point(&batch[i])
			if err != nil {
				return &publish.DeliverError{Acked: done, Class: publish.Content, Code: "series-point", Err: err}
			}
			points = append(points, p.AddTag("generation", g.tag).SortTags())
		}
		if err := g.api.WritePoint(ctx, points...); err != nil {
			judged := g.judge(err)
			judged.Acked = done
			return judged
		}
	}
	return nil
}
