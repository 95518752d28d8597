package bridge

import (
	"context"
	"encoding/json"
	"errors"
	"time"

	"manobridge/cmd/manobridge/anew"
	"manobridge/cmd/manobridge/operate/control"
	"manobridge/configs"
	"manobridge/convert/quantity"
	"manobridge/publish/journal"
)

// RecomputeArgs are the arguments of the request "recompute".
type RecomputeArgs struct {
	// File and Text are the configuration to compute with, as the one who asks has it: it may be newer than the one in use.
	File        string    `json:"file"`
	Text        string    `json:"text"`
	Instruments []string  `json:"instruments,omitempty"`
	Since       time.Time `json:"since,omitzero"`
	Until       time.Time `json:"until,omitzero"`
	Tag         string    `json:"tag,omitempty"`
}

// recompute computes results again, beside the loop and while it goes on: only the writing is shared with it, some hundred
// results at a time.
func (b *Bridge) recompute(ctx context.Context, r control.Request) control.Answer {
	var args RecomputeArgs
	if err := json.Unmarshal(r.Args, &args); err != nil {
		return control.Refuse(control.CodeMalformed, "%v", err)
	}
	if r.Why == "" {
		return control.Refuse(control.CodeNoWhy, "say why, with --why")
	}
	c, err := configs.Parse(args.File, []byte(args.Text), configs.Options{HostName: b.Config().Bridge, SkipSecrets: true,
		PressureUnit: func(unit string) error {
			_, err := quantity.ParseDifferentialPressure("1 " + unit)
			return err
		}})
	if err != nil {
		return control.Refuse("configuration", "%v", err)
	}
	if !b.hand.recomputing.TryLock() {
		return control.Refuse("recompute-busy", "results are being computed again already; nothing was begun")
	}
	defer b.hand.recomputing.Unlock()
	o := anew.Options{Config: c, Run: b.run, Who: r.User, Why: r.Why, Tag: args.Tag, Now: b.clock.Now().UTC(),
		Query: journal.Query{Instruments: args.Instruments, Since: args.Since, Until: args.Until}}
	report, err := anew.Run(ctx, b.journal, o)
	switch {
	case errors.Is(err, context.Canceled):
		return control.Refuse("cancelled", "asked to stop; generation %d is not whole, and is not to be relied on", report.Generation)
	case err != nil:
		return control.Refuse(control.CodeFailed, "%v", err)
	}
	b.act(ctx, report.Act(o))
	b.o.Log.Info("results were computed again, beside the first ones", "code", "recomputed", "generation", report.Generation, "by", r.User, "why", r.Why)
	return control.Done("", report)
}
