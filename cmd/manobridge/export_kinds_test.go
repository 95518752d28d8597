package main

import (
	"bytes"
	"encoding/csv"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/publish/journal"
	"manobridge/publish/publishtest"
)

// kindsJournal is a journal with something of every kind that export prints, and its configuration.
func kindsJournal(t *testing.T) (config, path string) {
	t.Helper()
	dir := t.TempDir()
	path = filepath.Join(dir, "manobridge.db")
	j, err := journal.Open(t.Context(), journal.Options{Path: path, Run: "now", Bridge: "bench-pc", Started: publishtest.Epoch()})
	if err != nil {
		t.Fatal(err)
	}
	results := publishtest.Series("now", "bank-1", 1, 9)
	for i := range results[:8] {
		results[i].Sample = true
	}
	results[8].Average = &convert.Average{Window: time.Second, Samples: 9, Good: 9, MinPa: 110, MeanPa: 120, MaxPa: 131.5, SDPa: 2.25}
	newer := results[8]
	newer.Config, newer.Average = "c0ffee00c0ffee00", nil
	var gen int64
	for _, do := range []func() error{
		func() error { return j.Append(t.Context(), results) },
		func() error {
			return j.RecordEvent(t.Context(), journal.Event{Run: "now", Time: publishtest.Epoch(), SinceStart: time.Second, Code: "clock-step", Note: "set back by 2 s"})
		},
		func() error { return j.Quarantine(t.Context(), "series", 9, "field type conflict") },
		func() (err error) {
			gen, err = j.BeginGeneration(t.Context(), journal.Generation{Made: publishtest.Epoch(), Run: "now", Who: "mk", Why: "density", Tag: "corrected"})
			return err
		},
		func() error {
			return j.AppendRecomputed(t.Context(), gen, []journal.Recomputed{{Row: 9, Result: newer}})
		},
		func() error { return j.EndGeneration(t.Context(), gen, publishtest.Epoch().Add(time.Minute)) },
		j.Close,
	} {
		if err := do(); err != nil {
			t.Fatal(err)
		}
	}
	config = filepath.Join(dir, "bench.yaml")
	writeFile(t, config, strings.ReplaceAll(exportBench, "JOURNAL", path))
	return config, path
}

func execOut(t *testing.T, args ...string) (status int, out, errs string) {
	t.Helper()
	var o, e bytes.Buffer
	status = executeContext(t.Context(), args, streams{strings.NewReader(""), &o, &e})
	return status, o.String(), e.String()
}

func TestExportPrintsEveryKind(t *testing.T) {
	config, _ := kindsJournal(t)
	for _, tc := range []struct {
		args  []string
		lines int
		want  string
	}{
		{nil, 1, `"seq":9`},
		{[]string{"--samples"}, 9, `"sample":true}`},
		{[]string{"--events"}, 1, `"code":"clock-step"`},
		{[]string{"--events", "--until", "2026-03-01T07:00:00Z"}, 0, ""},
		{[]string{"--events", "--instrument", "bank-1"}, 0, ""},
		{[]string{"--quarantined"}, 1, `"reason":"field type conflict"`},
		{[]string{"--quarantined", "--instrument", "bank-2"}, 0, ""},
		{[]string{"--generations"}, 1, `"tag":"corrected"`},
		{[]string{"--generation", "1"}, 1, `"generation":1}`},
		{[]string{"--generation", "corrected"}, 1, `"config":"c0ffee00c0ffee00"`},
		{[]string{"--gaps"}, 0, ""},
	} {
		status, out, errs := execOut(t, append([]string{"export", "-c", config}, tc.args...)...)
		if status != exitDone || strings.Count(out, "\n") != tc.lines || !strings.Contains(out, tc.want) || errs != "" {
			t.Errorf("%v: got status %d, %q and %q, want %d lines with %s", tc.args, status, out, errs, tc.lines, tc.want)
		}
	}
	_, out, _ := execOut(t, "export", "-c", config, "--csv")
	records, err := csv.NewReader(strings.NewReader(out)).ReadAll()
	if err != nil || len(records) != 2 {
		t.Fatalf("got %d records, %v, want the average alone", len(records), err)
	}
	got := map[string]string{}
	for i, name := range records[0] {
		got[name] = records[1][i]
	}
	for name, want := range map[string]string{"sample": "false", "samples": "9", "good_samples": "9", "min_pa": "110", "max_pa": "131.5", "sd_pa": "2.25"} {
		if got[name] != want {
			t.Errorf("%s: got %q, want %q", name, got[name], want)
		}
	}
	for _, args := range [][]string{{"--generation", "9"}, {"--gaps", "--events"}} {
		if status, _, errs := execOut(t, append([]string{"export", "-c", config}, args...)...); status != exitNotStarted || errs == "" {
			t.Errorf("%v: got status %d and %q, want %d with a reason", args, status, errs, exitNotStarted)
		}
	}
}

func TestBackupCommand(t *testing.T) {
	config, path := kindsJournal(t)
	dest := filepath.Join(t.TempDir(), "copy.db")
	if status, out, errs := execOut(t, "backup", "-c", config, dest); status != exitDone || !strings.Contains(out, "9 results (rows 1 to 9)") {
		t.Errorf("got status %d, %q and %q, want the copy reported", status, out, errs)
	}
	for _, to := range []string{dest, path} {
		if status, _, errs := execOut(t, "backup", "-c", config, to); status != exitNotStarted || !strings.Contains(errs, "not overwritten") {
			t.Errorf("%s: got status %d and %q, want it not overwritten", to, status, errs)
		}
	}
}
