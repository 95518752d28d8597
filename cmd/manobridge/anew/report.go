package anew

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"manobridge/cmd/manobridge/layout"
	"manobridge/convert"
	"manobridge/publish/journal"
)

// Report is what a computation changed.
type Report struct {
	Generation    int64               `json:"generation"`
	Tag           string              `json:"tag,omitempty"`
	Who           string              `json:"who"`
	Why           string              `json:"why"`
	Instruments   map[string]*Changes `json:"instruments"`
	NotConfigured int64               `json:"not_configured"` // rows of what is not, or no longer, an instrument of the file
	Unreadable    int64               `json:"unreadable"`
}

// Changes are those of one instrument.
type Changes struct {
	Results  int64            `json:"results"`
	Averages int64            `json:"averages"` // among them
	Samples  int64            `json:"samples"`  // among them
	Changed  int64            `json:"changed"`  // whose pressure is another
	Statuses map[string]int64 `json:"statuses"` // "good to uncertain": how many
	// The largest change of the pressure, new minus old, and the reading it was at.
	LargestPa  float64   `json:"largest_change_pa"`
	LargestAt  time.Time `json:"largest_change_at,omitzero"`
	LargestWas float64   `json:"largest_change_from_pa"`
	Config     string    `json:"config"` // of the last result
}

func newReport(o Options) Report {
	return Report{Tag: o.Tag, Who: o.Who, Why: o.Why, Instruments: map[string]*Changes{}}
}

// see counts one result.
func (r *Report) see(old, now *convert.Result) {
	c := r.Instruments[now.Instrument]
	if c == nil {
		c = &Changes{Statuses: map[string]int64{}}
		r.Instruments[now.Instrument] = c
	}
	c.Results++
	c.Config = now.Config
	if old.Sample {
		c.Samples++
	}
	if old.Average != nil {
		c.Averages++
	}
	if old.Status != now.Status {
		c.Statuses[old.Status.String()+" to "+now.Status.String()]++
	}
	d, ok := change(old, now)
	if !ok || d == 0 {
		return
	}
	c.Changed++
	if math.Abs(d) > math.Abs(c.LargestPa) {
		was, _ := old.Pressure()
		c.LargestPa, c.LargestAt, c.LargestWas = d, now.ReceivedAt.UTC(), was
	}
}

// String lays the report out. show writes a pressure for people.
func (r *Report) String(show func(pa float64) string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "Generation %d beside the first results, which stay as they are.\n", r.Generation)
	for _, name := range slices.Sorted(maps.Keys(r.Instruments)) {
		c := r.Instruments[name]
		fmt.Fprintf(&b, "\n%s: %d results, %d with another pressure\n", name, c.Results, c.Changed)
		if c.Changed > 0 {
			b.WriteString(layout.Labelled("largest", fmt.Sprintf("%s at %s, from %s to %s", show(c.LargestPa), c.LargestAt.Format(time.RFC3339Nano),
				show(c.LargestWas), show(c.LargestWas+c.LargestPa))))
		}
		for _, s := range slices.Sorted(maps.Keys(c.Statuses)) {
			b.WriteString(layout.Labelled("status", fmt.Sprintf("%d from %s", c.Statuses[s], s)))
		}
		if c.Averages > 0 {
			b.WriteString(layout.Labelled("averages", fmt.Sprintf("%d from the mean positions kept with them, %d samples from their own", c.Averages, c.Samples)))
		}
		b.WriteString(layout.Labelled("coefficients", c.Config))
	}
	if r.NotConfigured > 0 {
		b.WriteString(layout.Wrap("\n", "", fmt.Sprintf("%d rows of stations, or of instruments that the file does not have, were passed over.", r.NotConfigured)))
	}
	if r.Unreadable > 0 {
		b.WriteString(layout.Wrap("\n", "", fmt.Sprintf("%d rows cannot be read back and were passed over; check the disk.", r.Unreadable)))
	}
	return b.String()
}

// Act is the computation for the record of what people did.
func (r *Report) Act(o Options) journal.Act {
	n := int64(0)
	for _, c := range r.Instruments {
		n += c.Results
	}
	return journal.Act{Time: o.Now, Who: o.Who, What: "recompute", Subject: fmt.Sprintf("generation %d", r.Generation),
		New: fmt.Sprintf("%d results, tag %q", n, o.Tag), Why: o.Why}
}
