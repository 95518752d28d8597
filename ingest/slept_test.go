package ingest_test

import (
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"manobridge/ingest"
	"manobridge/ingest/ingesttest"
)

// The machine sleeps for an hour, in which no timer runs; what comes first when it wakes up is a frame. The hour without
// one is told all the same, before the frame and not after it.
func TestSilenceWhileTheMachineSlept(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := ingesttest.NewPort()
		o, log := patient(t, p) // 10 s
		began := time.Now()
		var slept atomic.Int64
		o.Clock = ingest.Clock{Now: time.Now, SinceStart: func() time.Duration { return time.Since(began) + time.Duration(slept.Load()) }}
		r := ingesttest.Run(t, o)
		p.Send("\n02,1,21\n03,1,21\n")
		after(time.Second)
		slept.Store(int64(time.Hour))
		p.Send("02,2,21\n")
		after(time.Second)
		wantCauses(t, r, "duct-2", "good", "silence", "good")
		wantCauses(t, r, "duct-3", "good", "silence")
		list := r.Readings("duct-2")
		if list[1].SinceStart != time.Hour+time.Second || list[2].SinceStart != list[1].SinceStart {
			t.Errorf("got silence at %v and the frame at %v, want both when the machine woke up", list[1].SinceStart, list[2].SinceStart)
		}
		r.Stop()
		if n := strings.Count(log.String(), "instrument is heard again"); n != 1 {
			t.Errorf("got %d words of recovery, want one:\n%s", n, log)
		}
	})
}
