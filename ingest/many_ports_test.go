package ingest_test

import (
	"fmt"
	"os"
	"runtime"
	"sync"
	"testing"
	"time"

	"go.uber.org/goleak"

	"manobridge/convert"
	"manobridge/ingest/frame"
	"manobridge/ingest/ingesttest"
)

// descriptors counts the open files of this process; -1 where the system does not show them.
func descriptors(t *testing.T) int {
	t.Helper()
	if runtime.GOOS != "linux" {
		return -1
	}
	list, err := os.ReadDir("/proc/self/fd")
	if err != nil {
		t.Fatal(err)
	}
	return len(list)
}

// Sixty-four ports at once, five seconds by default and a minute before a release, one of them unplugged and plugged in
// again on the way: every frame arrives at its instrument, and what was opened is closed, goroutines and files alike.
func TestManyPorts(t *testing.T) {
	const ports = 64
	lasts := 5 * time.Second
	if long() {
		lasts = time.Minute
	}
	running := goleak.IgnoreCurrent()
	before := descriptors(t)
	t.Run("run", func(t *testing.T) {
		lines, sources := make([]*ingesttest.Line, ports), make([]*ingesttest.Running, ports)
		for i := range ports {
			lines[i] = ingesttest.NewLine(t)
			o := ingesttest.Options(t, port(lines[i].Path), nil)
			o.Port = fmt.Sprintf("rack-%d", i)
			sources[i] = ingesttest.Run(t, o)
		}
		for i := range ports {
			join(t, lines[i], sources[i], 1)
		}
		const again = 17 // the one that is unplugged
		sent := make([]int, ports)
		var wg sync.WaitGroup
		for i := range ports {
			wg.Go(func() {
				tick := time.NewTicker(20 * time.Millisecond)
				defer tick.Stop()
				for began := time.Now(); time.Since(began) < lasts; sent[i]++ {
					<-tick.C
					if i == again && sent[i] == 50 {
						ingesttest.Eventually(t, "what was sent", func() bool { return sources[i].Source.Stats().Good == 50 })
						lines[i].Unplug()
						ingesttest.Eventually(t, "the loss", func() bool { return sources[i].Source.Stats().Losses == 1 })
						lines[i].Plug()
						ingesttest.Eventually(t, "the port again", func() bool { return sources[i].Source.Stats().Opens == 2 })
						lines[i].Send("\n")
					}
					lines[i].Send(fmt.Sprintf("%02d,%d.%02d,21.0\r\n", 2+sent[i]%2, i, sent[i]%100))
				}
			})
		}
		wg.Wait()
		for i, s := range sources {
			ingesttest.Eventually(t, "every frame", func() bool { return s.Source.Stats().Good == uint64(sent[i]) })
			for _, r := range append(s.Readings("duct-2"), s.Readings("duct-3")...) {
				if got := int(r.Low.V.Millimetres()); got != i || r.Refusal != nil {
					t.Fatalf("port %d: got %v mm, %v; want the frames of this port alone", i, r.Low.V.Millimetres(), r.Refusal)
				}
			}
		}
		t.Logf("%d ports, %d frames each", ports, sent[0])
		for _, s := range sources {
			wg.Go(s.Stop)
		}
		wg.Wait()
	})
	if err := goleak.Find(running); err != nil {
		t.Error(err)
	}
	if after := descriptors(t); after != before {
		t.Errorf("got %d open files after, %d before, want as many", after, before)
	}
}

// Half a frame, then nothing: the instrument is told silent, and the other half, when it comes at last, is refused, since
// it may be of another frame. What follows is read.
func TestHalfAFrameThenSilence(t *testing.T) {
	line := ingesttest.NewLine(t)
	o := ingesttest.Options(t, port(line.Path), nil)
	o.Silence = 300 * time.Millisecond
	format := ingesttest.Bench()
	format.MaxGap = 200 * time.Millisecond
	var err error
	if o.Decoder, err = frame.New(format); err != nil {
		t.Fatal(err)
	}
	r := ingesttest.Run(t, o)
	join(t, line, r, 1)
	line.Send("02,11")
	ingesttest.Eventually(t, "silence", func() bool { return r.Source.Stats().Refused[convert.Silence] == 2 })
	line.Send("0.5,21.0\r\n02,2.5,21.0\r\n")
	r.WantFrames("duct-2", "silence", "frame-format 02,110.5,21.0", "02,2.5,21.0")
	if s := r.Source.Stats(); s.Frames != 2 || s.Good != 1 || s.Instruments["duct-2"].Cause != "" || s.Instruments["duct-3"].Cause != convert.Silence {
		t.Errorf("got %+v, want two frames, one good, and duct-3 silent still", s)
	}
}

// What a person is shown of a port adds up: bytes, frames, refusals by reason, openings.
func TestCountsOfAPort(t *testing.T) {
	line, r := plugged(t)
	const text = "02,1.5,21\r\n02,1O.5,21\r\n02,OVER,21\r\n02,1\r\n99,1.5,21\r\n03,2.5,21\r\n02,1.5,2"
	line.Send(text)
	ingesttest.Eventually(t, "all read", func() bool { return r.Source.Stats().Bytes == uint64(len("\n"+text)) })
	line.Unplug()
	ingesttest.Eventually(t, "the loss", func() bool { return r.Source.Stats().Losses == 1 && r.Source.Stats().OpenFailures > 0 })
	line.Plug()
	join(t, line, r, 2)
	ingesttest.Eventually(t, "the line end", func() bool { return r.Source.Stats().Bytes == uint64(len("\n"+text+"\n")) })
	s := r.Source.Stats()
	if s.Frames != 6 || s.Good != 2 || s.Refused[convert.FrameNumber] != 1 || s.Refused[convert.FrameErrorWord] != 1 || s.Refused[convert.FrameFields] != 1 ||
		s.Unattributed[convert.FrameAddress] != 1 || s.PassedOver != uint64(len("\n"+"02,1.5,2"+"\n")) || s.Opens != 2 || !s.Open || s.OpenFailures == 0 {
		t.Errorf("got %+v, want 6 frames, 2 good, refused by number, word, fields and address, opened twice", s)
	}
}
