package main

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
	"time"

	"manobridge/cmd/manobridge/bridge"
	"manobridge/convert"
)

// playSummary says what became of a recording.
func playSummary(to io.Writer, p *bridge.Playback, b *bridge.Bridge, took time.Duration) error {
	h := &p.Holds
	var text strings.Builder
	fmt.Fprintf(&text, "played %s in place of port %s: %d reads, %d bytes, %s to %s (%.1f s) in %.1f s\n", p.Path, p.Port, h.Reads, h.Bytes,
		h.First.Format(time.RFC3339), h.Last.Format(time.RFC3339), h.Lasts.Seconds(), took.Seconds())
	if h.SetBack > 0 {
		fmt.Fprintf(&text, "the clock was set back %d times while it was recorded; that long is not known and counts as no time\n", h.SetBack)
	}
	for _, s := range b.Sources() {
		st := s.Stats()
		fmt.Fprintf(&text, "frames: %d found, %d good, refused: %s; of no instrument: %s; %d bytes passed over\n",
			st.Frames, st.Good, byCause(st.Refused), byCause(st.Unattributed), st.PassedOver)
	}
	n := b.Counts()
	fmt.Fprintf(&text, "results: %d, good %d, uncertain %d, bad %d, in the journal as run %s\n", n.Readings, n.Good, n.Uncertain, n.Bad, b.RunID())
	for _, d := range b.Deliveries() {
		fmt.Fprintf(&text, "%s: %d delivered as late, %d waiting in the journal, %d put aside\n", d.Sink, d.Delivered, d.Waiting, d.Quarantined)
	}
	_, err := io.WriteString(to, text.String())
	return err
}

// byCause writes counts as code and number.
func byCause(counts map[convert.Cause]uint64) string {
	var parts []string
	for _, cause := range slices.Sorted(maps.Keys(counts)) {
		parts = append(parts, fmt.Sprintf("%s %d", cause, counts[cause]))
	}
	if len(parts) == 0 {
		return "none"
	}
	return strings.Join(parts, ", ")
}
