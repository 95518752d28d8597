package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"manobridge/cmd/manobridge/alarms"
	"manobridge/cmd/manobridge/layout"
	"manobridge/convert/alarm"
	"manobridge/publish/journal"
)

type alarmExcursionsCommand struct {
	Config string `short:"c" required:"" placeholder:"FILE" help:"Configuration file."`
	Limit  string `arg:"" optional:"" help:"Only this limit."`
	Since  string `default:"30d" help:"From this time on, with its zone, or a span before now as 24h or 30d." placeholder:"TIME"`
	JSON   bool   `help:"JSON lines."`
}

// Run reads beside a running bridge.
func (c *alarmExcursionsCommand) Run(ctx context.Context, s streams) error {
	cfg, err := loadConfig(c.Config, true)
	if err != nil {
		return err
	}
	rate := map[string]bool{}
	for i := range cfg.Limits {
		rate[cfg.Limits[i].Name] = cfg.Limits[i].Rate != nil
	}
	since, err := daysOrMoment(c.Since, time.Now())
	if err != nil {
		return notStarted(err)
	}
	r, err := journal.OpenReader(ctx, cfg.Journal.Path)
	if err != nil {
		return notStarted(err)
	}
	defer r.Close() // read only
	list, err := r.Excursions(ctx, c.Limit, since)
	if err != nil {
		return err
	}
	if c.JSON {
		for _, e := range list {
			fmt.Fprintf(s.out, "%s\n", e.JSON)
		}
		return nil
	}
	if len(list) == 0 {
		_, err := fmt.Fprintf(s.out, "No limit was crossed since %s.\n", since.UTC().Format(time.RFC3339))
		return err
	}
	var t layout.Table
	t.Head("limit", "start", "lasted", "extreme", "bound", "integral", "readings", "alarm", "acknowledged by")
	for _, row := range list {
		var e alarm.Excursion
		if err := json.Unmarshal([]byte(row.JSON), &e); err != nil {
			return fmt.Errorf("excursion %d cannot be read: %w", row.ID, err)
		}
		t.Row(excursionRow(&e, rate[e.Limit], displayUnit(cfg))...)
	}
	_, err = io.WriteString(s.out, t.String())
	return err
}

func excursionRow(e *alarm.Excursion, rate bool, unit pressureUnit) []string {
	lasted := e.Lasted.Round(100 * time.Millisecond).String()
	if e.Open {
		lasted += ", goes on"
	}
	extreme, bound, integral := unit.show(e.Extreme), unit.show(e.Bound), fmt.Sprintf("%.4g Pa·s", e.Integral)
	if rate {
		extreme, bound, integral = unit.show(e.Extreme*60)+"/min", unit.show(e.Bound*60)+"/min", fmt.Sprintf("%.4g Pa", e.Integral)
	}
	called, by := "–", "–"
	if !e.Alarmed.IsZero() {
		called = e.Alarmed.UTC().Format("15:04:05Z")
	}
	if e.By != "" {
		by = e.By + " " + e.Acknowledged.UTC().Format("15:04:05Z")
	}
	return []string{e.Limit, e.Start.UTC().Format("2006-01-02 15:04:05Z"), lasted, extreme, bound, integral,
		strconv.Itoa(e.Inside + e.Outside + e.CannotTell), called, by}
}

// daysOrMoment is moment with spans in days.
func daysOrMoment(text string, now time.Time) (time.Time, error) {
	if days, ok := strings.CutSuffix(text, "d"); ok {
		if n, err := strconv.ParseFloat(days, 64); err == nil && n >= 0 && n < 1e5 {
			return now.Add(-time.Duration(n * 24 * float64(time.Hour))), nil
		}
	}
	return moment(text, now)
}

type alarmFiguresCommand struct {
	Config string `short:"c" required:"" placeholder:"FILE" help:"Configuration file."`
	Since  string `default:"30d" help:"From this time on, with its zone, or a span before now as 30d." placeholder:"TIME"`
	JSON   bool   `help:"One JSON object."`
}

// Run reads beside a running bridge.
func (c *alarmFiguresCommand) Run(ctx context.Context, s streams) error {
	cfg, err := loadConfig(c.Config, true)
	if err != nil {
		return err
	}
	now := time.Now()
	since, err := daysOrMoment(c.Since, now)
	if err != nil {
		return notStarted(err)
	}
	if !since.Before(now) {
		return notStarted(errors.New("--since lies ahead"))
	}
	r, err := journal.OpenReader(ctx, cfg.Journal.Path)
	if err != nil {
		return notStarted(err)
	}
	defer r.Close() // read only
	all, err := alarms.Annunciations(r.EachEvent(ctx))
	if err != nil {
		return err
	}
	f := alarm.FiguresOf(all, since, now)
	if c.JSON {
		return json.NewEncoder(s.out).Encode(f)
	}
	_, err = io.WriteString(s.out, figuresText(&f))
	return err
}

func figuresText(f *alarm.Figures) string {
	var b strings.Builder
	days := f.Until.Sub(f.From).Hours() / 24
	fmt.Fprintf(&b, "Alarms from %s to %s (%.1f days)\n\n", f.From.UTC().Format(time.RFC3339), f.Until.UTC().Format(time.RFC3339), days)
	var t layout.Table
	t.Head("figure", "here", "wanted")
	row := func(name, here, wanted string) { t.Row(name, here, wanted) }
	row("annunciations", strconv.Itoa(f.Annunciations), "")
	row("per 10 min", fmt.Sprintf("%.3f", f.PerTenMinutes), fmt.Sprintf("at most %g, ceiling %g", alarm.RateWanted, alarm.RateCeiling))
	row("most in 10 min", strconv.Itoa(f.Peak), fmt.Sprintf("at most %d", alarm.FloodStart))
	row("time in flood", fmt.Sprintf("%v, %.2f %%", f.FloodTime.Round(time.Second), f.FloodShare*100), fmt.Sprintf("under %.0f %%", alarm.FloodShare*100))
	row("chattering", named(f.Chattering), "none")
	row("fleeting", named(f.Fleeting), "none")
	row("stale, over 24 h", named(f.Stale), fmt.Sprintf("under %d a day", alarm.StaleWanted))
	row("top ten", fmt.Sprintf("%.0f %%: %s", f.TopTenShare*100, named(f.TopTen)), fmt.Sprintf("at most %.0f %%", alarm.TopTenShare*100))
	row("by priority", named(f.Priorities), "80, 15, 5 % low to high")
	b.WriteString(t.String())
	b.WriteString("\nOnly calls for a person count: no acknowledgements, returns, shelving or proof tests. What is\nwanted is as commonly quoted from IEC 62682 and ISA-18.2: per operator, in steady running, over 30 days or more.\n")
	if days < 30 {
		fmt.Fprintf(&b, "These are over %.1f days, so they say less.\n", days)
	}
	return b.String()
}

func named(counts []alarm.Count) string {
	if len(counts) == 0 {
		return "none"
	}
	parts := make([]string, len(counts))
	for i, c := range counts {
		parts[i] = fmt.Sprintf("%s %d", c.Alarm, c.N)
	}
	return strings.Join(parts, ", ")
}
