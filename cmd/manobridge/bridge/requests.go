package bridge

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"manobridge/cmd/manobridge/alarms"
	"manobridge/cmd/manobridge/operate/control"
	"manobridge/configs"
	"manobridge/publish"
	"manobridge/publish/journal"
	"manobridge/publish/mqtt"
)

// fromBroker takes a request off a topic. It does not block: where too much is asked, that is the answer.
func (b *Bridge) fromBroker(sink func() *mqtt.Sink, users []string) func(limit, user string, message []byte) {
	return func(limit, user string, message []byte) {
		answer := func(r publish.AlarmReply) {
			if s := sink(); s != nil {
				s.AlarmReply(r)
			}
		}
		refuse := func(id, code, text string) {
			answer(publish.AlarmReply{ID: id, Limit: limit, User: user, Code: code, Text: text, Time: b.clock.Now()})
		}
		if strings.ContainsAny(limit, "+#/") || len(limit) > 64 || len(user) > 64 {
			return // nobody can be answered
		}
		if !slices.Contains(users, user) {
			refuse("", "no-user", fmt.Sprintf("%.64q is not among the users whose requests are taken from the broker", user))
			return
		}
		r, err := publish.ReadAlarmRequest(message)
		if err != nil {
			refuse("", "unreadable", err.Error())
			return
		}
		do := func() {
			answer(b.request(context.Background(), alarms.Request{AlarmRequest: r, Limit: limit, User: user}))
		}
		select {
		case b.condition.asks <- do:
		default:
			refuse(r.ID, "busy", "too many requests at once; nothing was done; ask again")
		}
	}
}

// request does what is asked of a limit, on record. It belongs to the loop.
func (b *Bridge) request(ctx context.Context, r alarms.Request) publish.AlarmReply {
	k := b.condition.keeper
	if k == nil {
		return publish.AlarmReply{ID: r.ID, Limit: r.Limit, User: r.User, Code: "no-such-limit", Text: "this bridge has no limits", Time: b.clock.Now()}
	}
	before := k.State(r.Limit)
	answer, repeated := k.Do(ctx, r, b.moment())
	if answer.Done && !repeated {
		what := r.Act
		if r.ForS > 0 {
			what += fmt.Sprintf(" for %g s", r.ForS)
		}
		b.act(ctx, journal.Act{Time: answer.Time, Who: r.User, What: what, Subject: r.Limit, Old: before, New: answer.State, Why: r.Why})
	}
	return answer
}

// alarmRequest answers the request "alarm" of the socket: subject is the limit, the user comes from the credentials of whoever
// is connected.
func (b *Bridge) alarmRequest(ctx context.Context, r control.Request) control.Answer {
	var ask publish.AlarmRequest
	if err := json.Unmarshal(r.Args, &ask); err != nil {
		return control.Refuse(control.CodeMalformed, "%v", err)
	}
	ask.Why = r.Why
	if !slices.ContainsFunc(b.Config().Limits, func(l configs.Limit) bool { return l.Name == r.Subject }) {
		return control.Refuse("no-such-limit", "this bridge has no limit %.64q", r.Subject)
	}
	var reply publish.AlarmReply
	if err := b.inLoop(ctx, func() { reply = b.request(ctx, alarms.Request{AlarmRequest: ask, Limit: r.Subject, User: r.User}) }); err != nil {
		return stopped(err)
	}
	if !reply.Done {
		return control.Refuse(reply.Code, "%s", reply.Text)
	}
	return control.Done(reply.Text, reply)
}
