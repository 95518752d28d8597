package ingest

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"manobridge/convert"
	"manobridge/ingest/frame"
)

// The words for the person at the bench.

// sentence makes the one line of a refusal: what was lost, what was seen, what is allowed, what happens next, what to
// check.
func sentence(lost string, r *convert.Refusal, next string) string {
	s := lost + ": "
	if r.Field != "" {
		s += r.Field + " "
	}
	s += r.Seen
	if r.Allowed != "" {
		s += "; allowed: " + r.Allowed
	}
	s += "; " + next
	if r.Check != "" {
		s += "; check " + r.Check
	}
	return s
}

// seconds is how intervals are logged: to a tenth.
func seconds(d time.Duration) float64 { return math.Round(d.Seconds()*10) / 10 }

// maxAddresses bounds how many addresses a message lists.
const maxAddresses = 16

func refuseAddress(address []byte, known map[string]string) *convert.Refusal {
	list := slices.Sorted(maps.Keys(known))
	more := ""
	if len(list) > maxAddresses {
		more = fmt.Sprintf(" and %d more", len(list)-maxAddresses)
		list = list[:maxAddresses]
	}
	return &convert.Refusal{
		Code: convert.FrameAddress, Field: "address",
		Seen:    fmt.Sprintf("%.64q belongs to no instrument of this port", address),
		Allowed: fmt.Sprintf("%q%s", list, more),
		Check:   "the address set in the digitizer against the configuration, leading zeros included",
	}
}

func refuseSilence(silent, limit time.Duration, refused uint64) *convert.Refusal {
	seen := fmt.Sprintf("for %.1f s", silent.Seconds())
	check := "the digitizer's supply and cable, and its address"
	if refused > 0 {
		seen += fmt.Sprintf(", %d refused", refused)
		check = "why its frames are refused"
	}
	return &convert.Refusal{
		Code: convert.Silence, Field: "no good frame", Seen: seen,
		Allowed: fmt.Sprintf("at most %.1f s", limit.Seconds()), Check: check,
	}
}

// refusePort has what to check in why already, where the opener knows.
func refusePort(why string) *convert.Refusal {
	if why == "" {
		why = "not open yet"
	}
	why, check, _ := strings.Cut(why, "; check ")
	return &convert.Refusal{Code: convert.PortGone, Seen: why, Check: check}
}

// refused has a refused frame told of: at once if the trouble is new, else counted.
func (s *Source) refused(instrument string, seq uint64, refusal *convert.Refusal, f *frame.Frame) {
	key := troubleKey{instrument, refusal.Code}
	s.dirty = true
	if !s.teller.refused(key, refusal, f) {
		return
	}
	if instrument == "" {
		s.o.Log.Warn(sentence("frame refused", refusal, "no instrument is touched, reading goes on"), "code", refusal.Code, "port", s.o.Port)
		s.event(f.At, PortEvent{Kind: FramesRefused, Refusal: refusal, Frame: s.teller.troubles[key].frame})
		return
	}
	s.o.Log.Warn(sentence("reading refused", refusal, "a gap is published, reading goes on"),
		"code", refusal.Code, "instrument", instrument, "seq", seq, "port", s.o.Port)
}

// sayMore tells how often a trouble came again.
func (s *Source) sayMore(key troubleKey, tr *trouble) {
	now := s.o.Clock.SinceStart()
	attrs := []any{"code", key.code}
	if key.instrument != "" {
		attrs = append(attrs, "instrument", key.instrument)
	}
	s.o.Log.Warn(fmt.Sprintf("%d more refused %s; the latest: %s", tr.untold, lately(now-tr.toldAt), tr.refusal), append(attrs, "port", s.o.Port, "total", tr.total)...)
	if key.instrument == "" {
		s.event(tr.at, PortEvent{Kind: FramesRefused, Refusal: tr.refusal, Frame: tr.frame, Count: tr.untold})
	}
}

func lately(d time.Duration) string {
	if d >= summaryEvery && d < summaryEvery+time.Second {
		return "in the last minute"
	}
	return fmt.Sprintf("in the last %.0f s", d.Seconds())
}

// sayRecovered tells that a trouble is over.
func (s *Source) sayRecovered(key troubleKey, tr *trouble) {
	attrs := []any{"code", key.code}
	what := "frames that belong to no instrument have stopped"
	if key.instrument != "" {
		attrs = append(attrs, "instrument", key.instrument)
		what = "frames are good again"
	}
	s.o.Log.Info(what, append(attrs, "port", s.o.Port, "trouble_s", seconds(tr.latest-tr.since), "refused", tr.total)...)
}
