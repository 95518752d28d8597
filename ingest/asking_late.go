package ingest

import (
	"fmt"
	"time"

	"manobridge/convert"
	"manobridge/ingest/frame"
)

// pace is how often an instrument has been asked since the latest word about it.
type pace struct {
	from, last time.Duration // the first and the latest asking
	asked      int
}

func (c *pace) note(now time.Duration) {
	if c.asked == 0 {
		c.from = now
	}
	c.last = now
	c.asked++
}

// mean is the interval that was achieved; 0 while it cannot be told.
func (c *pace) mean() time.Duration {
	if c.asked < 2 {
		return 0
	}
	return (c.last - c.from) / time.Duration(c.asked-1)
}

// restart begins anew with the latest asking.
func (c *pace) restart() {
	if c.asked > 0 {
		c.from, c.asked = c.last, 1
	}
}

// schedule sets when the instrument, which is asked now, is due again, and has told of rounds that could not be kept. It
// goes by the moment at which it was due and not by that at which it is asked, so that lateness does not add up.
func (a *asking) schedule(i int) {
	at, in := a.p.o.Clock.stamp(), a.p.plan[i]
	in.pace.note(at.Mono)
	if missed := (at.Mono - a.due[i]) / in.Every; missed > 0 {
		a.p.sayLate(at, in, at.Mono-a.due[i])
		a.due[i] += missed * in.Every
	}
	a.due[i] += in.Every
	a.p.late.look(at.Mono)
}

// news gives what is to be told of the port, and forgets it.
func (a *asking) news() []portNews {
	list := a.p.news
	a.p.news = nil
	return list
}

// portNews is an event of a port that asks, with the moment it happened.
type portNews struct {
	at    frame.Stamp
	event PortEvent
}

// newsPort is a port with news beside its bytes. The goroutine that reads it asks for them.
type newsPort interface{ news() []portNews }

func (p *Poll) tell(at frame.Stamp, e PortEvent) { p.news = append(p.news, portNews{at, e}) }

// sayLate notes that an instrument could not be asked as often as it should. It is told once, then as a count.
func (p *Poll) sayLate(at frame.Stamp, in *planned, by time.Duration) {
	achieved := max(in.pace.mean(), in.Every)
	if in.pace.asked < 2 {
		achieved = in.Every + by // the first asking
	}
	refusal := &convert.Refusal{Field: "address " + in.Address,
		Seen:    fmt.Sprintf("was asked %.1f s late, and every %.2f s on average", by.Seconds(), achieved.Seconds()),
		Allowed: fmt.Sprintf("every %v", in.Every), Check: "baud, instruments that do not answer, timeout and every"}
	p.behind = in
	if !p.late.refused(troubleKey{}, refusal, &frame.Frame{At: at}) {
		return
	}
	p.o.Log.Warn(sentence("the line cannot keep up", refusal, "rounds are left out, readings come less often"), "code", "line-behind", "port", p.o.Port,
		"wanted_s", in.Every.Seconds(), "achieved_s", hundredths(achieved), "late_s", seconds(by))
	p.tell(at, PortEvent{Kind: PortBehind, Refusal: refusal, Wanted: in.Every, Achieved: achieved})
}

func (p *Poll) sayStillLate(_ troubleKey, tr *trouble) {
	achieved := max(p.behind.pace.mean(), p.behind.Every)
	p.o.Log.Warn(fmt.Sprintf("the line cannot keep up: asked late %d times %s; the latest: %s", tr.untold, lately(tr.at.Mono-tr.toldAt), tr.refusal),
		"code", "line-behind", "port", p.o.Port, "wanted_s", p.behind.Every.Seconds(), "achieved_s", hundredths(achieved), "total", tr.total)
	p.tell(tr.at, PortEvent{Kind: PortBehind, Refusal: tr.refusal, Count: tr.untold, Wanted: p.behind.Every, Achieved: achieved})
	p.restartPaces()
}

func (p *Poll) sayInTime(_ troubleKey, tr *trouble) {
	p.o.Log.Info("the line keeps up again", "code", "line-keeps-up", "port", p.o.Port, "trouble_s", seconds(tr.latest-tr.since), "late", tr.total)
	p.tell(p.o.Clock.stamp(), PortEvent{Kind: PortKeepsUp, Count: tr.total, Lasted: tr.latest - tr.since})
	p.restartPaces()
}

func (p *Poll) restartPaces() {
	for _, in := range p.plan {
		in.pace.restart()
	}
}

func hundredths(d time.Duration) float64 { return d.Round(10 * time.Millisecond).Seconds() }
