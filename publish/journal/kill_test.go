package journal_test

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"manobridge/publish/journal"
	"manobridge/publish/publishtest"
)

const killEnv = "MANOBRIDGE_TEST_JOURNAL"

// beKilled is the process that writes until it is killed: it prints the seq of each reading once it is durable.
func beKilled() {
	path := os.Getenv(killEnv)
	if path == "" {
		return
	}
	run := "run" + strconv.Itoa(os.Getpid())
	j, err := journal.Open(context.Background(), journal.Options{Path: path, Run: run, Bridge: "rack-pc", Started: publishtest.Epoch()})
	if err != nil {
		fmt.Println("error", err)
		os.Exit(1)
	}
	fmt.Println("run", run)
	for seq := uint64(1); ; seq += 3 {
		batch := publishtest.Series(run, "suite-a", seq, seq+2)
		if err := j.Append(context.Background(), batch); err != nil {
			fmt.Println("error", err)
			os.Exit(1)
		}
		fmt.Println(seq + 2)
	}
}

func TestKilledWriterLosesNothingDurable(t *testing.T) {
	kills := 3
	if os.Getenv("MANOBRIDGE_LONG") == "1" {
		kills = 25
	}
	path := filepath.Join(t.TempDir(), "journal.db")
	durable := map[string]uint64{}
	for kill := range kills {
		cmd := exec.Command(os.Args[0])
		cmd.Env = append(os.Environ(), killEnv+"="+path)
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		lines := bufio.NewScanner(out)
		var run string
		for lines.Scan() {
			text := lines.Text()
			if name, ok := strings.CutPrefix(text, "run "); ok {
				run = name
				continue
			}
			seq, err := strconv.ParseUint(text, 10, 64)
			if err != nil {
				t.Fatalf("the writer said %q", text)
			}
			durable[run] = seq
			if seq >= uint64(60+97*kill) {
				cmd.Process.Kill() // it goes on being read: what was printed before the end is durable too
			}
		}
		cmd.Wait()
		if durable[run] == 0 {
			t.Fatal("the writer wrote nothing")
		}
	}

	j := open(t, path, "after")
	next := map[string]uint64{}
	for _, row := range all(t, j.Reader, journal.Query{}) {
		next[row.Run]++
		want := publishtest.Series(row.Run, "suite-a", row.Seq, row.Seq)[0]
		if row.Seq != next[row.Run] {
			t.Fatalf("run %s: got seq %d, want %d", row.Run, row.Seq, next[row.Run])
		}
		// the runs overlap in time, so a time may have been moved by a few ns to be unique
		if bump := row.ReceivedAt.Sub(want.ReceivedAt); bump < 0 || bump > time.Duration(kills) {
			t.Fatalf("run %s seq %d: time moved by %v", row.Run, row.Seq, bump)
		}
		want.ReceivedAt = row.ReceivedAt
		if d := publishtest.Difference(row.Result, want); d != "" {
			t.Fatalf("run %s seq %d: %s", row.Run, row.Seq, d)
		}
	}
	for run, seq := range durable {
		if next[run] < seq {
			t.Errorf("run %s: got %d readings after the kill, want at least the %d said to be durable", run, next[run], seq)
		}
	}
	runs, err := j.Runs(t.Context())
	if err != nil || len(runs) != kills+1 {
		t.Fatalf("got %d runs, %v, want %d", len(runs), err, kills+1)
	}
	for _, r := range runs {
		if !r.Ended.IsZero() {
			t.Errorf("run %s was killed and is recorded as ended", r.Name)
		}
	}
	if tails := j.Previous(); len(tails) != 1 || tails[0].Seq != next[tails[0].Run] {
		t.Errorf("got last readings %+v, want the last of the last run (%v)", tails, next)
	}
}
