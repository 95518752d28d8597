package ingest_test

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"testing"

	"go.uber.org/goleak"

	"manobridge/convert"
	"manobridge/ingest"
	"manobridge/ingest/ingesttest"
	"manobridge/ingest/serialport"
)

// sendFrames, in the environment, makes the test program write frames to its standard output instead of testing.
const sendFrames = "MANOBRIDGE_TEST_SEND_FRAMES"

func TestMain(m *testing.M) {
	if os.Getenv(sendFrames) != "" {
		for i := range manyFrames {
			fmt.Printf("%s\r\n", numbered(i))
		}
		os.Exit(0)
	}
	goleak.VerifyTestMain(m)
}

const manyFrames = 10_000

// numbered is a frame that can be told from every other.
func numbered(i int) string { return fmt.Sprintf("%02d,%.2f,21.0", 2+i%2, float64(i)/100) }

// port opens the line through the serial library.
func port(device string) ingest.Opener {
	return serialport.Settings{Device: device, Baud: 9600, DataBits: 8, Parity: "none", StopBits: 1}.Opener()
}

// plugged gives a line and a source that has joined it.
func plugged(t *testing.T) (*ingesttest.Line, *ingesttest.Running) {
	t.Helper()
	line := ingesttest.NewLine(t)
	r := ingesttest.Run(t, ingesttest.Options(t, port(line.Path), nil))
	join(t, line, r, 1)
	return line, r
}

// join waits for the opening and ends the line that it may have come into.
func join(t *testing.T, line *ingesttest.Line, r *ingesttest.Running, openings int) {
	t.Helper()
	ingesttest.Eventually(t, "port open", func() bool { return len(r.Events(ingest.PortOpened)) == openings })
	line.Send("\n")
}

func TestOneByteAtATime(t *testing.T) {
	line, r := plugged(t)
	line.SendBytewise("02,110.5,21.0\r\n03,20.25,21.5\r\n")
	r.WantFrames("duct-2", "02,110.5,21.0")
	r.WantFrames("duct-3", "03,20.25,21.5")
	rd := r.Readings("duct-2")[0]
	if got, want := rd.Low.V.Millimetres(), 110.5; got != want || rd.High.Set {
		t.Errorf("low limb: got %v mm, want %v mm and no other position", got, want)
	}
	if rd.Run != "run1" || rd.ReceivedAt.IsZero() || rd.ReceivedAt.Location().String() != "UTC" {
		t.Errorf("got run %q at %v, want run1 and a time in UTC", rd.Run, rd.ReceivedAt)
	}
}

func TestSeveralFramesInOneRead(t *testing.T) {
	line, r := plugged(t)
	line.Send("02,1.5,21\r\n02,2.5,21\r\n03,3.5,21\r\n")
	r.WantFrames("duct-2", "02,1.5,21", "02,2.5,21")
	r.WantFrames("duct-3", "03,3.5,21")
}

func TestRefusedReadingsKeepTheirNumber(t *testing.T) {
	line, r := plugged(t)
	line.Send("02,1.5,21\r\n02,15O.2,21\r\n02,110;5,21\r\n02,1.5\r\n02,OVER,21\r\n02,2.5,21\r\n")
	r.WantFrames("duct-2", "02,1.5,21", "frame-number 02,15O.2,21", "frame-number 02,110;5,21", "frame-fields 02,1.5",
		"frame-error-word 02,OVER,21", "02,2.5,21")
}

func TestNoiseBetweenFrames(t *testing.T) {
	line, r := plugged(t)
	line.Send("02,1.5,21\r\n\xfe\x81\x07~~garbage\r\n02,2.5,21\r\n99,1,1\r\n02,3.5,21\r\n")
	r.WantFrames("duct-2", "02,1.5,21", "02,2.5,21", "02,3.5,21")
	events := r.Events(ingest.FramesRefused)
	if len(events) != 2 || events[0].Refusal.Code != convert.FrameFields || events[1].Refusal.Code != convert.FrameAddress ||
		!strings.Contains(events[1].Refusal.Error(), `["02" "03"]`) || string(events[1].Frame) != "99,1,1" {
		t.Errorf("got events %+v, want the noise and the unknown address", events)
	}
}

func TestTenKilobytesWithoutLineEnd(t *testing.T) {
	line, r := plugged(t)
	line.Send(strings.Repeat("0123456789", 1024))
	line.Send("\r\n02,2.5,21\r\n")
	r.WantFrames("duct-2", "02,2.5,21")
	events := r.Events(ingest.FramesRefused)
	if len(events) != 1 || events[0].Refusal.Code != convert.FrameOverlong || events[0].Count != 1 || len(events[0].Frame) != 512 {
		t.Errorf("got %+v, want one refusal", events)
	}
}

func TestUnplugAndPlugAgain(t *testing.T) {
	line, r := plugged(t)
	line.Send("02,1.5,21\r\n02,11")
	r.WantFrames("duct-2", "02,1.5,21")
	ingesttest.Eventually(t, "half a frame read", func() bool { return r.Source.Stats().Bytes == uint64(len("\n02,1.5,21\r\n02,11")) })
	line.Unplug()
	ingesttest.Eventually(t, "loss noticed", func() bool { return len(r.Events(ingest.PortLost)) == 1 })
	if e := r.Events(ingest.PortLost)[0]; e.Bytes != 5 || e.Refusal.Code != convert.PortGone {
		t.Errorf("got %+v, want 5 bytes of an unfinished frame lost", e)
	}
	line.Plug()
	join(t, line, r, 2)
	line.Send("02,2.5,21\r\n")
	r.WantFrames("duct-2", "02,1.5,21", "02,2.5,21")
	if s := r.Source.Stats(); s.Opens != 2 || s.Losses != 1 || !s.Open {
		t.Errorf("got %+v, want two openings, one loss, open", s)
	}
}

func TestPortInUse(t *testing.T) {
	line := ingesttest.NewLine(t)
	first, err := port(line.Path)(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	r := ingesttest.Run(t, ingesttest.Options(t, port(line.Path), nil))
	ingesttest.Eventually(t, "refusal", func() bool { return len(r.Events(ingest.PortUnopened)) == 1 })
	if e := r.Events(ingest.PortUnopened)[0]; !strings.Contains(e.Refusal.Error(), "in use by this program itself") {
		t.Errorf("got %v, want who has the port", e.Refusal)
	}
	if err := first.Close(); err != nil {
		t.Fatal(err)
	}
	join(t, line, r, 1)
	line.Send("02,2.5,21\r\n")
	r.WantFrames("duct-2", "port-gone", "02,2.5,21")
}

func TestMissingPortIsWaitedFor(t *testing.T) {
	line := ingesttest.NewUnpluggedLine(t)
	r := ingesttest.Run(t, ingesttest.Options(t, port(line.Path), nil))
	r.WantFrames("duct-2", "port-gone")
	r.WantFrames("duct-3", "port-gone")
	ingesttest.Eventually(t, "several attempts", func() bool { return r.Source.Stats().OpenFailures >= 3 })
	line.Plug()
	join(t, line, r, 1)
	line.Send("02,2.5,21\r\n")
	r.WantFrames("duct-2", "port-gone", "02,2.5,21")
	if e := r.Events(ingest.PortUnopened); len(e) != 1 {
		t.Errorf("said %d times that the port is missing, want once", len(e))
	}
}

// A line as fast as the machine allows, written by another process.
func TestManyFramesFromAnotherProcess(t *testing.T) {
	line, r := plugged(t)
	exe, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.CommandContext(t.Context(), exe)
	cmd.Env = append(os.Environ(), sendFrames+"=1")
	cmd.Stdout, cmd.Stderr = line.Master(), os.Stderr
	if err := cmd.Run(); err != nil {
		t.Fatal(err)
	}
	ingesttest.Eventually(t, "all frames", func() bool { return r.Source.Stats().Good == manyFrames })
	want := map[string][]string{}
	for i := range manyFrames {
		name := [...]string{"duct-2", "duct-3"}[i%2]
		want[name] = append(want[name], numbered(i))
	}
	for name, frames := range want {
		r.WantFrames(name, frames...)
	}
}

func TestStopHandsOverEverythingRead(t *testing.T) {
	p := ingesttest.NewPort()
	o := ingesttest.Options(t, p.Open, nil)
	src, err := ingest.New(o)
	if err != nil {
		t.Fatal(err)
	}
	const frames = 200
	p.Send("\n")
	for i := range frames {
		p.Send(numbered(i) + "\n")
	}
	ctx, stop := context.WithCancel(t.Context())
	out, done := make(chan ingest.Item), make(chan error, 1)
	go func() { done <- src.Run(ctx, out) }()
	first := <-out // opened
	// Nobody takes anything until the source has read it all and is told to stop.
	ingesttest.Eventually(t, "all read", func() bool { return p.Unread() == 0 })
	stop()
	items := []ingest.Item{first}
	for running := true; running; {
		select {
		case it := <-out:
			items = append(items, it)
		case err := <-done:
			if err != nil {
				t.Errorf("run: got %v, want none", err)
			}
			running = false
		}
	}
	if got := len(items); got != frames+1 {
		t.Errorf("got %d items, want %d readings and the opening", got, frames)
	}
	ingesttest.CheckLedger(t, items)
	if s := src.Stats(); s.Waits == 0 || s.Stalls != 0 {
		t.Errorf("got %d waits, %d stalls, want the waiting counted and no stall: the queue was long enough", s.Waits, s.Stalls)
	}
}

func TestSlowConsumerIsCounted(t *testing.T) {
	p := ingesttest.NewPort()
	o := ingesttest.Options(t, p.Open, nil)
	o.Queue = 4
	src, err := ingest.New(o)
	if err != nil {
		t.Fatal(err)
	}
	p.Send("\n")
	for i := range 100 {
		p.Send(numbered(i) + "\n")
	}
	ctx, stop := context.WithCancel(t.Context())
	out, done := make(chan ingest.Item), make(chan error, 1)
	go func() { done <- src.Run(ctx, out); close(out) }()
	var items []ingest.Item
	for it := range out {
		items = append(items, it)
		if it.Event == nil && it.Reading.Seq == 50 && it.Reading.Instrument == "duct-3" {
			stop()
		}
	}
	stop()
	if err := <-done; err != nil {
		t.Errorf("run: %v", err)
	}
	ingesttest.CheckLedger(t, items)
	stalled := 0
	for _, it := range items {
		if it.Event != nil && it.Event.Kind == ingest.PortStalled {
			stalled++
		}
	}
	if s := src.Stats(); s.Good != 100 || s.Stalls == 0 || stalled == 0 {
		t.Errorf("got %d good, %d stalls, %d events of them, want all 100 good and the stalls told", s.Good, s.Stalls, stalled)
	}
}

func TestNewReportsEveryProblem(t *testing.T) {
	_, err := ingest.New(ingest.Options{Instruments: map[string]string{"1": "a", "2": "a"}, RetryMin: -1})
	if err == nil {
		t.Fatal("got no error")
	}
	for _, want := range []string{"run: missing", "port: missing", "opener", `"a" at address`, "silence", "negative"} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("%q is not in:\n%v", want, err)
		}
	}
}
