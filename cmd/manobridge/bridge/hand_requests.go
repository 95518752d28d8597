package bridge

import (
	"context"
	"errors"
	"slices"
	"strings"

	"manobridge/cmd/manobridge/assemble"
	"manobridge/cmd/manobridge/operate/control"
	"manobridge/configs"
)

// Offer registers what the bridge does for people who ask.
func (b *Bridge) Offer(s *control.Server) error {
	return errors.Join(
		s.Handle("view", b.view),
		s.Handle("service", b.service),
		s.Handle("zero", b.zero),
		s.Handle("recompute", b.recompute),
		s.Handle("alarm", b.alarmRequest),
		s.Handle("alarms", b.alarmWords),
		s.Handle("prove", b.prove),
		s.Handle("proved", b.proved),
	)
}

// refusedRequest says what is wrong with a request that changes an instrument, nil where nothing is.
func (b *Bridge) refusedRequest(r control.Request) *control.Answer {
	no := func(a control.Answer) *control.Answer { return &a }
	c := b.Config()
	in := assemble.Instrument(c, r.Subject)
	switch {
	case in == nil || in.Offline:
		var names []string
		for i := range c.Instruments {
			if !c.Instruments[i].Offline {
				names = append(names, c.Instruments[i].Name)
			}
		}
		slices.Sort(names)
		text := "this bridge has no instrument %.64q"
		if near := configs.Nearest(r.Subject, names); near != "" {
			text += "; did you mean " + near + "?"
		}
		return no(control.Refuse("no-such-instrument", text+"; it has %s", r.Subject, strings.Join(names, ", ")))
	case strings.TrimSpace(r.Why) == "":
		return no(control.Refuse(control.CodeNoWhy, "say why, with --why"))
	case r.User == "":
		return no(control.Refuse("no-user", "this system does not tell who asks, and what is done by hand is recorded under a name; nothing was changed"))
	}
	return nil
}

// stopped is the answer where the loop did not get to it.
func stopped(err error) control.Answer {
	if errors.Is(err, context.Canceled) {
		return control.Refuse("cancelled", "asked to stop; nothing was changed")
	}
	return control.Refuse(control.CodeStopping, "%v", err)
}
