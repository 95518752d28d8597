package operate

import (
	"context"
	"path/filepath"
	"runtime"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"

	"manobridge/cmd/manobridge/bridge"
	"manobridge/convert"
	"manobridge/publish"
)

// prefix begins every name. Names and units follow OpenMetrics 1.0: base units, _total for what only grows.
const prefix = "manobridge_"

// readWithin bounds what a scrape reads from the journal.
const readWithin = 2 * time.Second

// figures reads the bridge's own counts at each scrape. It keeps none itself. Counts of a port begin anew where a reload opens
// it anew, as those of a program that starts anew do.
type figures struct {
	b *bridge.Bridge
	descriptions
}

// NewRegistry makes the figures of a bridge, beside those of the process and the Go runtime.
func NewRegistry(b *bridge.Bridge) (*prometheus.Registry, error) {
	r := prometheus.NewRegistry()
	for _, c := range []prometheus.Collector{
		&figures{b, describe()}, collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}),
	} {
		if err := r.Register(c); err != nil {
			return nil, err
		}
	}
	return r, nil
}

// Describe is that of prometheus.Collector.
func (f *figures) Describe(to chan<- *prometheus.Desc) {
	for _, d := range f.all {
		to <- d
	}
}

// Collect is that of prometheus.Collector.
func (f *figures) Collect(to chan<- prometheus.Metric) {
	emit := func(d *prometheus.Desc, kind prometheus.ValueType, v float64, labels ...string) {
		to <- prometheus.MustNewConstMetric(d, kind, v, labels...)
	}
	gauge := func(d *prometheus.Desc, v float64, labels ...string) { emit(d, prometheus.GaugeValue, v, labels...) }
	count := func(d *prometheus.Desc, v float64, labels ...string) { emit(d, prometheus.CounterValue, v, labels...) }

	gauge(f.build, 1, bridge.Version(), runtime.Version())
	gauge(f.started, float64(f.b.Started().UnixNano())/1e9)
	if yes, known := f.b.ClockSynchronised(); known {
		gauge(f.clock, truth(yes))
	}
	n := f.b.Counts()
	count(f.results, float64(n.Good), "good")
	count(f.results, float64(n.Uncertain), "uncertain")
	count(f.results, float64(n.Bad), "bad")
	f.ports(gauge, count)
	f.journal(gauge, count)
	f.sinks(gauge, count)
}

type emitter func(d *prometheus.Desc, v float64, labels ...string)

func (f *figures) ports(gauge, count emitter) {
	now := f.b.SinceStart()
	for _, s := range f.b.Sources() {
		p := s.Stats()
		gauge(f.portOpen, truth(p.Open), p.Port)
		count(f.portBytes, float64(p.Bytes), p.Port)
		count(f.portFrames, float64(p.Frames), p.Port)
		count(f.portGood, float64(p.Good), p.Port)
		causes(f.portRefused, count, p.Port, p.Refused)
		causes(f.portUnattributed, count, p.Port, p.Unattributed)
		count(f.portPassed, float64(p.PassedOver), p.Port)
		count(f.portOpens, float64(p.Opens), p.Port)
		count(f.portOpenFailures, float64(p.OpenFailures), p.Port)
		count(f.portLosses, float64(p.Losses), p.Port)
		count(f.portStalled, p.Stalled.Seconds(), p.Port)
		for name, in := range p.Instruments {
			count(f.readings, float64(in.Seq), name)
			if in.Good > 0 {
				gauge(f.lastGood, (now - in.LastGood).Seconds(), name)
			}
		}
	}
}

func causes(d *prometheus.Desc, count emitter, port string, by map[convert.Cause]uint64) {
	for cause, n := range by {
		count(d, float64(n), port, string(cause))
	}
}

func (f *figures) journal(gauge, count emitter) {
	j := f.b.Journal()
	s := j.Stats()
	count(f.journalRows, float64(s.Rows))
	gauge(f.journalLast, float64(s.Last))
	gauge(f.journalHeld, float64(s.Waiting))
	count(f.journalLost, float64(s.Lost))
	gauge(f.journalWritable, truth(s.Full == nil))
	if left, err := available(filepath.Dir(j.Path())); err == nil {
		gauge(f.journalDisk, float64(left))
	}
}

func (f *figures) sinks(gauge, count emitter) {
	ctx, cancel := context.WithTimeout(context.Background(), readWithin)
	defer cancel()
	for _, o := range f.b.Outboxes() {
		s := o.Stats()
		count(f.sinkDelivered, float64(s.Live), s.Sink, "live")
		count(f.sinkDelivered, float64(s.Late), s.Sink, "late")
		count(f.sinkQuarantined, float64(s.Quarantined), s.Sink)
		count(f.sinkOutages, float64(s.Outages), s.Sink)
		count(f.sinkSuspects, float64(s.Suspects), s.Sink)
		gauge(f.sinkUp, truth(s.Link == publish.LinkUp), s.Sink)
		late := int64(0)
		for _, r := range s.Cursor.Late {
			late += r.Until - r.From
		}
		gauge(f.sinkLag, float64(s.Lag-late), s.Sink, "live")
		gauge(f.sinkLag, float64(late), s.Sink, "late")
		gauge(f.sinkLagTime, f.age(ctx, s.Cursor.Live, s.Lag > late), s.Sink, "live")
		from := int64(0)
		if late > 0 {
			from = s.Cursor.Late[0].From
		}
		gauge(f.sinkLagTime, f.age(ctx, from, late > 0), s.Sink, "late")
	}
}

// age is how long ago the first row after the cursor was received, in s; 0 where nothing waits, or it cannot be read.
func (f *figures) age(ctx context.Context, after int64, waits bool) float64 {
	if !waits {
		return 0
	}
	rows, err := f.b.Journal().Rows(ctx, after, 1)
	if err != nil || len(rows) == 0 {
		return 0
	}
	return max(0, time.Since(rows[0].ReceivedAt).Seconds())
}

func truth(b bool) float64 {
	if b {
		return 1
	}
	return 0
}
