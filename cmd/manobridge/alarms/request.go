package alarms

import (
	"context"
	"errors"
	"fmt"
	"time"

	"manobridge/convert/alarm"
	"manobridge/publish"
)

// The acts that can be asked of a limit.
const (
	Acknowledge  = "acknowledge"
	Shelve       = "shelve"
	Unshelve     = "unshelve"
	Reset        = "reset"
	OutOfService = "out-of-service"
	BackInto     = "back-in-service"
)

var acts = []string{Acknowledge, Shelve, Unshelve, Reset, OutOfService, BackInto}

// Request is what somebody asks of a limit.
type Request struct {
	publish.AlarmRequest
	Limit string
	User  string // from the broker's topic or the socket's credentials, never from the request itself
}

// farAhead bounds how long a request may wait to be done: one that holds for ever could be played back for ever.
const farAhead = time.Hour

// State gives the state of a limit as shown, empty where there is no such limit.
func (k *Keeper) State(limit string) string {
	if w := k.named[limit]; w != nil {
		return string(w.alarm.State())
	}
	return ""
}

// Do does what is asked, and answers; repeated says that it was answered before and nothing was done now. Who asked, when and
// why go into the event.
func (k *Keeper) Do(ctx context.Context, r Request, now Now) (answer publish.AlarmReply, repeated bool) {
	answer = publish.AlarmReply{ID: r.ID, Limit: r.Limit, User: r.User, Time: now.Wall}
	refuse := func(code, format string, args ...any) (publish.AlarmReply, bool) {
		answer.Code, answer.Text = code, fmt.Sprintf(format, args...)
		return answer, false
	}
	w := k.named[r.Limit]
	switch {
	case w == nil:
		return refuse("no-such-limit", "there is no limit %.64q", r.Limit)
	case r.ID == "" || len(r.ID) > 64:
		return refuse("no-id", "a request needs an id of its own, of at most 64 characters")
	case r.User == "":
		return refuse("no-user", "nobody is named who asks")
	case r.Why == "":
		return refuse("no-why", "say why")
	case len(r.Why) > 1024:
		return refuse("no-why", "why has %d characters; allowed: 1024", len(r.Why))
	case r.Until.IsZero():
		return refuse("no-expiry", "a request needs expires, the time after which it is not done")
	case now.Wall.After(r.Until):
		return refuse("expired", "it expired at %s; nothing was done", r.Until.UTC().Format(time.RFC3339))
	case r.Until.Sub(now.Wall) > farAhead:
		return refuse("no-expiry", "expires is more than %v ahead", farAhead)
	}
	if before, done := k.replies.find(r, now.Wall); done {
		return before, true
	}
	if len(k.replies.of) >= mostReplies {
		return refuse("too-many", "more than %d requests within %v; nothing was done", mostReplies, farAhead)
	}
	m, mf := w.alarm, w.fault
	at := max(now.Mono, w.seen)
	w.seen = at
	h := heard{by: r.User, why: r.Why}
	var err error
	switch r.Act {
	case Acknowledge:
		h.limit, err = m.Acknowledge(at, r.Saw)
		if more, faultErr := mf.Acknowledge(at, 0); faultErr == nil && r.Saw == 0 {
			h.fault, err = more, nil
		}
		if w.door != nil && r.Saw == 0 {
			if more, doorErr := w.door.held.Acknowledge(at, 0); doorErr == nil {
				h.door, err = more, nil
			}
		}
	case Shelve:
		h.limit, err = m.Shelve(at, time.Duration(r.ForS*float64(time.Second)), r.Once)
	case Unshelve:
		h.limit, err = m.Unshelve(at)
	case Reset:
		h.limit, err = m.Reset(at)
	case OutOfService, BackInto:
		h.limit, err = m.Service(at, r.Act == OutOfService)
		if err == nil {
			h.fault, err = mf.Service(at, r.Act == OutOfService)
		}
	default:
		return refuse("no-such-act", "there is no act %.64q; there are %q", r.Act, acts)
	}
	w.heard = append(w.heard, h)
	k.cycle(ctx, []*one{w}, now)
	answer.State = string(w.alarm.State())
	var refused *alarm.Refused
	switch {
	case errors.As(err, &refused):
		answer.Code, answer.Text = refused.Code, refused.Text
	case err != nil:
		answer.Code, answer.Text = "failed", err.Error()
	default:
		answer.Done, answer.Code, answer.Text = true, "done", fmt.Sprintf("%s is now %s", r.Limit, answer.State)
	}
	if err := k.replies.keep(ctx, r, answer, now.Wall); err != nil {
		k.unkept(w, err)
	}
	return answer, false
}
