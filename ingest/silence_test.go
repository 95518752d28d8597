package ingest_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"manobridge/convert"
	"manobridge/ingest"
	"manobridge/ingest/ingesttest"
)

// patient gives options with ten seconds of silence, and the log.
func patient(t *testing.T, p *ingesttest.Port) (ingest.Options, *bytes.Buffer) {
	t.Helper()
	var log bytes.Buffer
	h := slog.NewTextHandler(&log, &slog.HandlerOptions{ReplaceAttr: func(_ []string, a slog.Attr) slog.Attr {
		if a.Key == slog.TimeKey {
			return slog.Attr{}
		}
		return a
	}})
	o := ingesttest.Options(t, p.Open, slog.New(h))
	o.Silence = 10 * time.Second
	o.RetryMin, o.RetryMax = 250*time.Millisecond, 5*time.Second
	return o, &log
}

// after lets the bubble's time pass.
func after(d time.Duration) {
	<-time.After(d)
	synctest.Wait()
}

// causes gives the instrument's refusals, and "good" for each good reading.
func causes(r *ingesttest.Running, instrument string) (list []string) {
	for _, rd := range r.Readings(instrument) {
		word := "good"
		if rd.Refusal != nil {
			word = string(rd.Refusal.Code)
		}
		list = append(list, word)
	}
	return list
}

func wantCauses(t *testing.T, r *ingesttest.Running, instrument string, want ...string) {
	t.Helper()
	if got := causes(r, instrument); !slices.Equal(got, want) {
		t.Errorf("%s: got %v, want %v", instrument, got, want)
	}
}

func TestSilenceIsToldOnceAndAgainAfterRecovery(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := ingesttest.NewPort()
		o, log := patient(t, p)
		r := ingesttest.Run(t, o)
		p.Send("\n02,1,21\n03,1,21\n")
		after(6 * time.Second)
		p.Send("03,2,21\n")
		after(3900 * time.Millisecond)
		wantCauses(t, r, "duct-2", "good") // 9.9 s
		after(200 * time.Millisecond)
		wantCauses(t, r, "duct-2", "good", "silence")
		wantCauses(t, r, "duct-3", "good", "good")
		rd := r.Readings("duct-2")[1]
		if rd.SinceStart != 10*time.Second || rd.Frame != nil || rd.Low.Set {
			t.Errorf("got %+v, want a reading of the tenth second without frame and position", rd)
		}
		after(time.Hour)
		wantCauses(t, r, "duct-2", "good", "silence")
		p.Send("02,3,21\n")
		after(10 * time.Second)
		wantCauses(t, r, "duct-2", "good", "silence", "good", "silence")
		r.Stop()
		for _, want := range []string{
			`"no reading: no good frame for 10.0 s; allowed: at most 10.0 s; the instrument is bad until it is heard again; check the digitizer's supply and cable, and its address" code=silence instrument=duct-2 seq=2 port=rack-a silent_s=10`,
			`"instrument is heard again" code=silence instrument=duct-2 seq=3 port=rack-a silent_s=3610.1`,
		} {
			if !strings.Contains(log.String(), want) {
				t.Errorf("the log lacks\n%s\nin\n%s", want, log)
			}
		}
	})
}

// Half a frame, then nothing: silence, and what comes later is not joined to it.
func TestHalfFrameThenSilence(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := ingesttest.NewPort()
		o, _ := patient(t, p)
		r := ingesttest.Run(t, o)
		p.Send("\n02,1,21\n02,11")
		after(11 * time.Second)
		wantCauses(t, r, "duct-2", "good", "silence")
		p.Send("0.5,21\n02,110.5,21\n")
		synctest.Wait()
		wantCauses(t, r, "duct-2", "good", "silence", "frame-format", "good")
	})
}

// An instrument that sends only rubbish is silent as well: it gives no value.
func TestRefusedFramesDoNotBreakSilence(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := ingesttest.NewPort()
		o, _ := patient(t, p)
		r := ingesttest.Run(t, o)
		p.Send("\n02,1,21\n")
		for range 4 {
			after(3 * time.Second)
			p.Send("02,x,21\n03,1,21\n")
		}
		synctest.Wait()
		wantCauses(t, r, "duct-2", "good", "frame-number", "frame-number", "frame-number", "silence", "frame-number")
		if got := r.Readings("duct-2")[4].Refusal.Error(); !strings.Contains(got, "3 refused") {
			t.Errorf("got %q, want it to say that 3 frames were refused", got)
		}
	})
}

func TestLostPortIsToldAfterSilenceWithItsOwnCause(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := ingesttest.NewPort()
		o, log := patient(t, p)
		r := ingesttest.Run(t, o)
		p.Send("\n02,1,21\n03,1,21\n")
		after(time.Second)
		// A short loss is nobody's business but the log's.
		p.Fail(errors.New("read port x: port gone; check the cable"))
		after(time.Second)
		p.Send("\n02,2,21\n03,2,21\n")
		after(time.Second)
		wantCauses(t, r, "duct-2", "good", "good")
		// A long one is not.
		p.Refuse(errors.New("open port x: no such port; check that it is plugged in"))
		p.Fail(errors.New("read port x: port gone; check the cable"))
		after(time.Minute)
		wantCauses(t, r, "duct-2", "good", "good", "port-gone")
		// The port comes back and the instrument does not: the cause is another now.
		p.Allow()
		after(9 * time.Second)
		wantCauses(t, r, "duct-2", "good", "good", "port-gone")
		after(10 * time.Second)
		wantCauses(t, r, "duct-2", "good", "good", "port-gone", "silence")
		// It goes again: at once, because nothing good is taken away.
		p.Refuse(errors.New("open port x: permission denied"))
		p.Fail(errors.New("read port x: port gone"))
		synctest.Wait()
		after(time.Millisecond)
		wantCauses(t, r, "duct-2", "good", "good", "port-gone", "silence", "port-gone")
		p.Allow()
		after(6 * time.Second)
		p.Send("\n02,3,21\n")
		synctest.Wait()
		wantCauses(t, r, "duct-2", "good", "good", "port-gone", "silence", "port-gone", "good")
		r.Stop()
		if n := strings.Count(log.String(), `msg="port is open again"`); n != 3 {
			t.Errorf("said %d times that the port is open again, want 3:\n%s", n, log)
		}
		if !strings.Contains(log.String(), `"port: open port x: no such port; it is tried again until it opens; check that it is plugged in" code=port-gone port=rack-a`) {
			t.Errorf("the log does not say why the port is missing:\n%s", log)
		}
	})
}

// The pauses double up to the bound, so that a missing port costs next to nothing.
func TestBackoff(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := ingesttest.NewPort()
		p.Refuse(errors.New("open port x: no such port"))
		o, log := patient(t, p)
		r := ingesttest.Run(t, o)
		synctest.Wait()
		wantCauses(t, r, "duct-2", "port-gone")
		var at []int
		for s := range 40 {
			_ = s
			before := p.Opens()
			after(250 * time.Millisecond)
			if p.Opens() > before {
				at = append(at, (s+1)*250)
			}
		}
		if want := []int{250, 750, 1750, 3750, 7750}; !slices.Equal(at, want) { // with the jitter in its middle
			t.Errorf("tried after %v ms, want %v", at, want)
		}
		if n := strings.Count(log.String(), "no such port"); n != 3 { // the port, and its two instruments
			t.Errorf("said %d times, want 3:\n%s", n, log)
		}
		// Another reason is news.
		p.Refuse(errors.New("open port x: permission denied"))
		after(10 * time.Second)
		if got := len(r.Events(ingest.PortUnopened)); got != 2 {
			t.Errorf("got %d events, want 2", got)
		}
	})
}

func TestTroubleIsToldOnceThenCountedThenOver(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := ingesttest.NewPort()
		o, log := patient(t, p)
		r := ingesttest.Run(t, o)
		p.Send("\n")
		for range 32 { // good and bad in turn, and an unknown instrument
			p.Send("02,15O.2,21\n02,150.2,21\n77,1,21\n03,1,21\n")
			after(time.Second)
		}
		for range 40 {
			p.Send("02,150.2,21\n03,1,21\n")
			after(time.Second)
		}
		r.Stop()
		text := log.String()
		for _, want := range []string{
			`msg="reading refused: low-limb position \"15O.2\" is not a number (field 2 of 3); allowed: digits with a decimal point, and only mm as unit; a gap is published, reading goes on; check the digitizer's output format" code=frame-number instrument=duct-2 seq=1 port=rack-a`,
			`msg="frames are good again" code=frame-number instrument=duct-2 port=rack-a trouble_s=31 refused=32`,
			`msg="frame refused: address \"77\" belongs to no instrument of this port; allowed: [\"02\" \"03\"]; no instrument is touched, reading goes on; check the address set in the digitizer against the configuration, leading zeros included" code=frame-address port=rack-a`,
			`msg="frames that belong to no instrument have stopped" code=frame-address port=rack-a trouble_s=31 refused=32`,
			`msg="31 more refused in the last 41 s; the latest: address`,
		} {
			if !strings.Contains(text, want) {
				t.Errorf("the log lacks\n%s", want)
			}
		}
		if n := strings.Count(text, "reading refused"); n != 1 {
			t.Errorf("told %d times, want once", n)
		}
		if t.Failed() {
			t.Log(text)
		}
		var count uint64
		for _, e := range r.Events(ingest.FramesRefused) {
			count += e.Count
		}
		if count != 32 {
			t.Errorf("the events stand for %d frames, want 32", count)
		}
	})
}

func TestLongTroubleIsCountedEachMinute(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := ingesttest.NewPort()
		o, log := patient(t, p)
		r := ingesttest.Run(t, o)
		p.Send("\n")
		for range 185 {
			p.Send("02,x,21\n03,1,21\n")
			after(time.Second)
		}
		r.Stop()
		if n := strings.Count(log.String(), "more refused in the last minute"); n != 3 {
			t.Errorf("counted %d times in three minutes, want 3:\n%s", n, log)
		}
		if n := r.Source.Stats().Refused[convert.FrameNumber]; n != 185 {
			t.Errorf("got %d refused, want 185", n)
		}
	})
}

// A parity error arrives as a NUL; a pseudo-terminal cannot make one.
func TestParityError(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := ingesttest.NewPort()
		o, _ := patient(t, p)
		r := ingesttest.Run(t, o)
		p.Send("\n02,1\x003.4,21\n02,13.4,21\n")
		synctest.Wait()
		wantCauses(t, r, "duct-2", "frame-nul", "good")
	})
}

// The wall clock may step; numbers, intervals and silence do not care.
func TestClockSetBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := ingesttest.NewPort()
		o, _ := patient(t, p)
		back := time.Duration(0)
		now := o.Clock.Now
		o.Clock.Now = func() time.Time { return now().Add(-back) }
		r := ingesttest.Run(t, o)
		p.Send("\n02,1,21\n")
		after(time.Second)
		synctest.Wait()
		back = time.Hour
		p.Send("02,2,21\n")
		after(time.Second)
		got := r.Readings("duct-2")
		if len(got) != 2 || !got[1].ReceivedAt.Before(got[0].ReceivedAt) || got[1].SinceStart-got[0].SinceStart != time.Second || got[1].Seq != 2 {
			t.Errorf("got %+v, want the second an hour before and one second after the first", got)
		}
	})
}

// A port that answers every read with nothing would keep a processor busy for ever.
func TestPortThatGivesNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := ingesttest.NewPort()
		o, _ := patient(t, p)
		r := ingesttest.Run(t, o)
		for range 100 {
			p.Send("")
		}
		synctest.Wait()
		if e := r.Events(ingest.PortLost); len(e) != 1 {
			t.Errorf("got %d losses, want 1: %v", len(e), fmt.Sprint(e))
		}
	})
}

// While the consumer takes nothing, reading stands still in the end. That is no silence of the instruments.
func TestSlowConsumerIsNoSilence(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := ingesttest.NewPort()
		o, _ := patient(t, p)
		o.Queue = 4
		src, err := ingest.New(o)
		if err != nil {
			t.Fatal(err)
		}
		ctx, stop := context.WithCancel(t.Context())
		out := make(chan ingest.Item)
		go func() {
			defer close(out)
			if err := src.Run(ctx, out); err != nil {
				t.Errorf("run: %v", err)
			}
		}()
		p.Send("\n")
		for range 30 {
			p.Send("02,1,21\n03,1,21\n")
		}
		items := []ingest.Item{<-out}
		after(time.Minute)
		go func() { after(time.Second); stop() }()
		for it := range out {
			items = append(items, it)
		}
		ingesttest.CheckLedger(t, items)
		if s := src.Stats(); s.Good != 60 || len(s.Refused) != 0 || s.Stalls == 0 || s.Stalled < time.Minute {
			t.Errorf("got %+v, want 60 good readings, no refusal, and a minute of standing still counted", s)
		}
	})
}
