package bridge

import (
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"strings"
	"time"

	"manobridge/cmd/manobridge/acts"
	"manobridge/cmd/manobridge/operate/control"
	"manobridge/convert"
	"manobridge/publish/journal"
)

// Service says since when an instrument is out for maintenance, by whose word and why.
type Service struct {
	Since time.Time `json:"since"`
	Who   string    `json:"who"`
	Why   string    `json:"why"`
}

// serviced is one instrument that is out for maintenance.
type serviced struct {
	Service
	reminded time.Duration // since the start of the run
}

// remindEvery is how often the log recalls an instrument that is out: one that was forgotten measures nothing.
const remindEvery = 24 * time.Hour

// servicePrefix begins the names under which the journal keeps them.
const servicePrefix = "service/"

func (s *serviced) refusal() *convert.Refusal {
	return &convert.Refusal{Code: convert.InService, Field: "instrument", Seen: fmt.Sprintf("is out for maintenance since %s by %s: %s",
		s.Since.UTC().Format(time.RFC3339), s.Who, s.Why), Check: "that it is given back when the work is done"}
}

// ServiceOf gives the instruments that are out for maintenance, as the journal keeps them.
func ServiceOf(ctx context.Context, r *journal.Reader) (map[string]Service, error) {
	list, err := r.KeptAll(ctx, servicePrefix)
	if err != nil {
		return nil, err
	}
	out := map[string]Service{}
	for _, k := range list {
		var s Service
		if err := json.Unmarshal(k.Value, &s); err != nil {
			return nil, fmt.Errorf("what the journal keeps of %s cannot be read: %w", k.Name, err)
		}
		out[strings.TrimPrefix(k.Name, servicePrefix)] = s
	}
	return out, nil
}

// takeUpService reads what an earlier run kept.
func (b *Bridge) takeUpService(ctx context.Context) error {
	if b.o.Play != nil {
		return nil // what is out now was not when it was recorded
	}
	out, err := ServiceOf(ctx, b.journal.Reader)
	if err != nil {
		return err
	}
	for name, s := range out {
		if b.instruments[name] == nil {
			continue // no longer configured; kept in case it comes back
		}
		b.hand.serviced[name] = &serviced{Service: s, reminded: b.clock.SinceStart()}
		b.hand.serviced[name].remind(b.o.Log, name)
	}
	return nil
}

func (s *serviced) remind(log *slog.Logger, name string) {
	log.Warn("the instrument is out for maintenance: it publishes no pressure; give it back with service --back when the work is done",
		"code", string(convert.InService), "instrument", name, "since", s.Since.UTC().Format(time.RFC3339), "by", s.Who, "why", s.Why)
}

// recall is called about once a second.
func (h *hand) recall(log *slog.Logger, since time.Duration) {
	for name, s := range h.serviced {
		if since-s.reminded >= remindEvery {
			s.reminded = since
			s.remind(log, name)
		}
	}
}

// ServiceArgs are the arguments of the request "service".
type ServiceArgs struct {
	Out bool `json:"out"` // otherwise back
}

// service takes an instrument out for maintenance, or back.
func (b *Bridge) service(ctx context.Context, r control.Request) control.Answer {
	if no := b.refusedRequest(r); no != nil {
		return *no
	}
	var args ServiceArgs
	if err := json.Unmarshal(r.Args, &args); err != nil {
		return control.Refuse(control.CodeMalformed, "%v", err)
	}
	var was *serviced
	if err := b.inLoop(ctx, func() { was = b.hand.serviced[r.Subject] }); err != nil {
		return stopped(err)
	}
	switch {
	case args.Out && was != nil:
		return control.Refuse("already-out", "%s is out for maintenance since %s by %s: %s", r.Subject, was.Since.UTC().Format(time.RFC3339), was.Who, was.Why)
	case !args.Out && was == nil:
		return control.Refuse("not-out", "%s is not out for maintenance; nothing was changed", r.Subject)
	}
	now := b.clock.Now().UTC()
	s := &serviced{Service: Service{Since: now, Who: r.User, Why: r.Why}, reminded: b.clock.SinceStart()}
	// Durable first: what a person was told must survive a restart.
	var err error
	what, old, text := "service-out", "in use", ""
	if args.Out {
		text = "out since " + now.Format(time.RFC3339)
		var kept []byte
		if kept, err = json.Marshal(s.Service); err == nil {
			err = b.journal.Keep(ctx, servicePrefix+r.Subject, kept)
		}
	} else {
		what, old, text = "service-back", "out since "+was.Since.Format(time.RFC3339), "in use"
		err = b.journal.Forget(ctx, servicePrefix+r.Subject)
	}
	if err != nil {
		return control.Refuse(control.CodeFailed, "the journal could not keep it, so nothing was changed: %v", err)
	}
	b.act(ctx, journal.Act{Time: now, Who: r.User, What: what, Subject: r.Subject, Old: old, New: text, Why: r.Why})
	err = b.inLoop(context.WithoutCancel(ctx), func() {
		if args.Out {
			b.hand.serviced[r.Subject] = s
		} else {
			delete(b.hand.serviced, r.Subject)
		}
	})
	if err != nil {
		return control.Done("kept; it holds from the next start on, as this run is stopping", nil)
	}
	if args.Out {
		b.o.Log.Info("an instrument was taken out for maintenance: its raw readings are kept, and it publishes no pressure", "code", string(convert.InService), "instrument", r.Subject, "by", r.User, "why", r.Why)
		return control.Done(r.Subject+" is out for maintenance: its raw readings are kept, and it publishes no pressure until service --back.", nil)
	}
	b.o.Log.Info("an instrument is back from maintenance", "code", "service-back", "instrument", r.Subject, "by", r.User, "why", r.Why, "lasted_s", now.Sub(was.Since).Seconds())
	return control.Done(fmt.Sprintf("%s is back; it was out for %s.", r.Subject, now.Sub(was.Since).Round(time.Second)), nil)
}

// act adds to the record of what people did. A record that cannot be written is said, and stops nothing.
func (b *Bridge) act(ctx context.Context, a journal.Act) {
	kept, err := b.journal.AppendAct(context.WithoutCancel(ctx), func(prev journal.Act) journal.Act { return acts.Seal(prev, a) })
	if err == nil {
		b.anchor(kept)
	} else {
		b.o.Log.Error("what a person did could not be recorded in the journal; it was done all the same; check the disk", "code", "event-not-recorded",
			"instrument", a.Subject, "what", a.What, "by", a.Who, "reason", err.Error())
	}
}
