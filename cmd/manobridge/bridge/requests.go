package bridge

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"manobridge/cmd/manobridge/alarms"
	"manobridge/cmd/manobridge/operate/control"
	"manobridge/configs"
	"manobridge/convert/alarm"
	"manobridge/ingest"
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

// alarmWords answers the request "alarms": how every limit stands.
func (b *Bridge) alarmWords(ctx context.Context, _ control.Request) control.Answer {
	words := []json.RawMessage{}
	if err := b.inLoop(ctx, func() {
		if k := b.condition.keeper; k != nil {
			words = k.Words()
		}
	}); err != nil {
		return stopped(err)
	}
	return control.Done("", words)
}

// ProofResult is what whoever asked for a proof test saw of it.
type ProofResult struct {
	ID      string        `json:"id"`
	Came    bool          `json:"came"` // back from the broker
	After   time.Duration `json:"after_ns"`
	Problem string        `json:"problem,omitempty"`
}

// prove answers the request "prove": a proof test of a limit begins.
func (b *Bridge) prove(ctx context.Context, r control.Request) control.Answer {
	if strings.TrimSpace(r.Why) == "" {
		return control.Refuse(control.CodeNoWhy, "say why, with --why")
	}
	var p alarms.Proof
	err := errors.New("this bridge has no limits")
	if loop := b.inLoop(ctx, func() {
		if k := b.condition.keeper; k != nil {
			p, err = k.Prove(r.Subject, r.User, r.Why, b.moment())
		}
	}); loop != nil {
		return stopped(loop)
	}
	var refused *alarm.Refused
	switch {
	case errors.As(err, &refused):
		return control.Refuse(refused.Code, "%s", refused.Text)
	case err != nil:
		return control.Refuse("no-such-limit", "%v", err)
	}
	return control.Done("a simulated alarm of "+r.Subject+" will be told", p)
}

// proved answers the request "proved": what came of a proof test goes on record.
func (b *Bridge) proved(ctx context.Context, r control.Request) control.Answer {
	var result ProofResult
	if err := json.Unmarshal(r.Args, &result); err != nil {
		return control.Refuse(control.CodeMalformed, "%v", err)
	}
	outcome := fmt.Sprintf("came back from the broker after %.3f s", result.After.Seconds())
	if !result.Came {
		outcome = "did not come: " + result.Problem
	}
	b.act(ctx, journal.Act{Time: b.clock.Now(), Who: r.User, What: "proof-test", Subject: r.Subject, Old: result.ID, New: outcome, Why: r.Why})
	return control.Done("recorded", nil)
}

// Listening gives what a subscriber beside the bridge of a configuration needs to connect as the bridge does.
func Listening(c *configs.Config) mqtt.Options {
	b := &Bridge{o: Options{Config: c, Play: &Playback{}}, run: "ear", clock: ingest.SystemClock(time.Now())}
	return b.mqttOptions(c, c.Publish.MQTT, nil)
}
