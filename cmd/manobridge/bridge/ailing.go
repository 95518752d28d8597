package bridge

import (
	"slices"
	"time"

	"manobridge/publish"
	"manobridge/publish/journal"
)

// ailing is what is wrong with the bridge itself, as its retained alarm tells it.
type ailing struct {
	notices chan journal.Event // what the journal did about itself
	said    []string
	latest  []publish.BridgeNotice
	since   time.Time
	told    bool
}

const (
	// ailingFor is how long something must be stuck to be told.
	ailingFor = 30 * time.Second
	// latestNotices is how many of the journal's own events are told.
	latestNotices = 10
)

// notice takes an event that the journal recorded of itself. It does not block: where many come at once, the log and the
// journal have them all.
func (a *ailing) notice(e journal.Event) {
	select {
	case a.notices <- e:
	default:
	}
}

// tellAilments puts the word on the bridge on its topic where it has changed. It belongs to the loop.
func (b *Bridge) tellAilments() {
	a := &b.ailing
	fresh := !a.told
	for more := true; more; {
		select {
		case e := <-a.notices:
			a.latest = append(a.latest, publish.BridgeNotice{Time: e.Time.UTC(), Code: e.Code, Text: e.Note})
			a.latest = a.latest[max(0, len(a.latest)-latestNotices):]
			fresh = true
		default:
			more = false
		}
	}
	now := b.Ailments(ailingFor)
	if len(now) > 0 != (len(a.said) > 0) || !a.told {
		a.since, fresh = b.clock.Now(), true
	}
	if !fresh && slices.Equal(now, a.said) {
		return
	}
	a.said, a.told = now, true
	if sink := b.broker(); sink != nil && b.o.Play == nil {
		c := b.Config()
		sink.BridgeAlarm(publish.BridgeAlarm{Bridge: c.Bridge, Run: b.run, Time: b.clock.Now(), Since: a.since, Ailments: now, Notices: a.latest}.JSON())
	}
}
