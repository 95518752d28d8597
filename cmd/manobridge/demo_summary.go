package main

import (
	"errors"
	"fmt"
	"net/url"
	"slices"
	"strings"

	"manobridge/cmd/manobridge/bridge"
	"manobridge/convert"
)

// summary adds up what was written, what came of it and what was delivered. It is an error where something is missing.
func (v *demoView) summary(b *bridge.Bridge) error {
	v.mu.Lock()
	defer v.mu.Unlock()
	a := v.bench.Ledger().Account()
	frames, fates := 0, []string{}
	for fate, n := range a.Written {
		frames += n
		fates = append(fates, fmt.Sprintf("%d %s", n, fate))
	}
	slices.Sort(fates)
	var good, refused uint64
	causes := map[convert.Cause]uint64{}
	for _, s := range b.Sources() {
		st := s.Stats()
		good += st.Good
		for _, m := range []map[convert.Cause]uint64{st.Refused, st.Unattributed} {
			for c, n := range m {
				if c != convert.Silence && c != convert.PortGone {
					refused += n
					causes[c] += n
				}
			}
		}
	}
	out := v.s.out
	fmt.Fprintf(out, "\nframes written    %d (%s)\n", frames, strings.Join(fates, ", "))
	fmt.Fprintf(out, "frames decoded    %d of %d that could be\n", good, a.Due)
	fmt.Fprintf(out, "frames refused    %d%s\n", refused, listed(causes))
	fmt.Fprintf(out, "journal           %d results durable\n", b.Journal().Stats().Rows)
	complete := true
	for _, d := range b.Deliveries() {
		fmt.Fprintf(out, "%-17s %d delivered and acknowledged, %d waiting, %d quarantined\n", d.Sink, d.Delivered, d.Waiting, d.Quarantined)
		complete = complete && d.Waiting == 0
	}
	for _, in := range v.cfg.Instruments {
		if v.seen[in.Name] == 0 {
			complete = false
			fmt.Fprintf(out, "%-17s NOTHING was reported\n", in.Name)
		}
	}
	if a.WithValue > 0 {
		fmt.Fprintf(out, "true within U     %.1f %% of %d readings (the truth was drawn once per instrument: one bench is one draw)\n",
			100*float64(a.Within)/float64(a.WithValue), a.WithValue)
	}
	if w := v.worst; w.instrument != "" {
		fmt.Fprintf(out, "largest error     %+.2f Pa against U = %.2f Pa (%.2f U) at %s\n", w.differencePa, w.u, w.ratio, w.instrument)
	}
	if !complete || a.Missing > 0 || a.Waiting > 0 || a.Unexpected > 0 {
		return &exit{exitFailed, errors.New("not everything that was written arrived: see above")}
	}
	return nil
}

func listed(causes map[convert.Cause]uint64) string {
	if len(causes) == 0 {
		return ""
	}
	list := make([]string, 0, len(causes))
	for c, n := range causes {
		list = append(list, fmt.Sprintf("%d %s", n, c))
	}
	slices.Sort(list)
	return " (" + strings.Join(list, ", ") + ")"
}

// portOf is the port number of an address.
func portOf(address string) string {
	u, err := url.Parse(address)
	if err != nil {
		return "?"
	}
	return u.Port()
}
