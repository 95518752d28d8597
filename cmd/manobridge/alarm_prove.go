package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"manobridge/cmd/manobridge/alarms"
	"manobridge/cmd/manobridge/bridge"
	"manobridge/cmd/manobridge/operate/control"
	"manobridge/publish/mqtt"
)

// alarmProveCommand proves a limit from a made-up value to a subscriber of the broker.
type alarmProveCommand struct {
	ofLimit `embed:""`
	Within  time.Duration `default:"15s" help:"How long the alarm may take beyond its on-delay."`
}

// Run subscribes, has the bridge make a value up, waits for what comes back from the broker, and has the outcome recorded.
func (c *alarmProveCommand) Run(ctx context.Context, s streams) error {
	cfg, err := loadConfig(c.Config, false)
	if err != nil {
		return err
	}
	l, err := limitNamed(cfg, c.Config, c.Limit)
	if err != nil {
		return notStarted(err)
	}
	if strings.TrimSpace(c.Why) == "" {
		return notStarted(errors.New("--why is empty; say why, for whoever reads the record later"))
	}
	if cfg.Publish.MQTT == nil {
		return notStarted(errors.New("no broker is configured, so there is no subscriber to prove the limit to"))
	}
	ear, err := mqtt.Listen(ctx, bridge.Listening(cfg), l.Name, "event")
	if err != nil {
		return notStarted(err)
	}
	defer ear.Close()
	client := control.NewClient(cfg.SocketPath())
	defer client.Close()
	var p alarms.Proof
	a, err := client.Ask(ctx, control.Request{Name: "prove", Subject: l.Name, Why: c.Why}, nil, &p)
	if err := answered(a, err); err != nil {
		return err
	}
	fmt.Fprintf(s.err, "A value of %.4g made up for %s goes through its limit; the alarm is expected in %v.\n", p.Value, l.Name, p.Expected)
	began := time.Now()
	result := bridge.ProofResult{ID: p.ID}
	waiting, enough := context.WithTimeout(ctx, p.Expected+c.Within)
	defer enough()
	if problem := heardBack(waiting, ear, p.ID); problem != nil {
		result.Problem = problem.Error()
		if errors.Is(problem, context.DeadlineExceeded) {
			result.Problem = fmt.Sprintf("nothing within %v", p.Expected+c.Within)
		}
	} else {
		result.Came, result.After = true, time.Since(began)
	}
	recorded, err := client.Ask(context.WithoutCancel(ctx), control.Request{Name: "proved", Subject: l.Name, Why: c.Why}, result, nil)
	if err := answered(recorded, err); err != nil {
		return err
	}
	if c.JSON {
		if err := json.NewEncoder(s.out).Encode(result); err != nil {
			return err
		}
	} else if result.Came {
		fmt.Fprintf(s.out, "%s is proved: the simulated alarm came back from the broker after %.3f s. Recorded.\n", l.Name, result.After.Seconds())
	}
	if !result.Came {
		return &exit{exitNo, fmt.Errorf("%s is not proved: %s; recorded; check the broker, its access list and the log of the bridge", l.Name, result.Problem)}
	}
	return nil
}

// heardBack waits for the simulated event of that id.
func heardBack(ctx context.Context, ear *mqtt.Ear, id string) error {
	for {
		message, err := ear.Next(ctx)
		if err != nil {
			return err
		}
		var e struct {
			ID        string
			Simulated bool
			Verdict   string
			Response  string
		}
		switch err := json.Unmarshal(message, &e); {
		case err != nil:
			return fmt.Errorf("what came is no event: %w", err)
		case e.ID != id:
			continue
		case !e.Simulated || e.Verdict != "outside" || e.Response == "":
			return fmt.Errorf("what came is not what was told: %.200s", message)
		}
		return nil
	}
}
