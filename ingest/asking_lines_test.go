package ingest_test

import (
	"bufio"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/ingest"
	"manobridge/ingest/frame"
	"manobridge/ingest/ingesttest"
	"manobridge/ingest/modbus"
	"manobridge/ingest/serialport"
)

// peer starts the process that plays the digitizers, and gives the terminal to open.
func peer(t *testing.T, echo bool, prompt string) string {
	t.Helper()
	python, err := exec.LookPath("python3")
	if err != nil && os.Getenv("CI") == "true" {
		t.Fatal("python3 missing")
	} else if err != nil {
		t.Skip("SKIPPED: python3 missing, nobody to ask")
	}
	manner := "plain"
	if echo {
		manner = "echo"
	}
	c := exec.Command(python, "testdata/lines_peer.py", manner, prompt)
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	c.Stderr = os.Stderr
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := c.Process.Kill(); err != nil {
			t.Logf("the peer ended by itself: %v", err)
		}
		_ = c.Wait() // killed is how it is meant to end
	})
	path, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	return strings.TrimSpace(path)
}

// lines gives options for a line of those at the addresses.
func lines(t *testing.T, path string, echo bool, prompt string, addresses ...string) ingest.Options {
	t.Helper()
	const timeout, gap = 300 * time.Millisecond, 200 * time.Millisecond
	open := serialport.Settings{Device: path, Baud: 19200, DataBits: 8, Parity: "none", StopBits: 1, ReadTimeout: 100 * time.Millisecond}.Opener()
	o := ingesttest.Options(t, open, nil)
	o.Instruments, o.Silence = map[string]string{}, time.Minute
	var asked []ingest.Asked
	for _, a := range addresses {
		o.Instruments[a] = "duct-" + a
		asked = append(asked, ingest.Asked{Address: a, Every: 100 * time.Millisecond})
	}
	p, err := ingest.NewPoll(ingest.PollOptions{Port: o.Port, Open: open, Instruments: asked, Timeout: timeout, Gap: gap, Echo: echo,
		Character: 10 * time.Second / 19200, Clock: o.Clock, Log: o.Log,
		Lines: &ingest.LineTalk{Request: "#{address}\r", Prompt: prompt, Terminator: "\n", Decoder: func() (frame.Decoder, error) {
			return frame.New(frame.Options{Format: "delimited", Separator: ",", Fields: []string{"address", "low_mm", "temperature_c"}})
		}}})
	if err != nil {
		t.Fatal(err)
	}
	o.Open, o.Decoder = p.Open, p.Decoder()
	return o
}

// Seven digitizers with their own manners on one line, played by another process: with and without echo and prompt, none
// gets another's answer, and each bad one has its cause.
func TestAskedInLines(t *testing.T) {
	for _, c := range []struct {
		echo   bool
		prompt string
	}{{false, ""}, {true, "> "}} {
		t.Run(fmt.Sprintf("echo %v, prompt %q", c.echo, c.prompt), func(t *testing.T) {
			path := peer(t, c.echo, c.prompt)
			r := ingesttest.Run(t, lines(t, path, c.echo, c.prompt, "01", "02", "03", "04", "06", "07", "08"))
			good := func(name string) (n int) {
				for _, rd := range r.Readings(name) {
					if rd.Refusal == nil {
						n++
					}
				}
				return n
			}
			ingesttest.Eventually(t, "answers of those that give them", func() bool { return good("duct-01") >= 3 && good("duct-02") >= 2 && good("duct-03") >= 1 })
			for name, cause := range map[string]convert.Cause{"duct-04": convert.FrameAddress, "duct-06": convert.FrameErrorWord, "duct-07": "", "duct-08": convert.FrameFormat} {
				ingesttest.Eventually(t, "a refusal of "+name, func() bool {
					return slices.ContainsFunc(r.Readings(name), func(rd convert.Reading) bool { return rd.Refusal != nil && (cause == "" || rd.Refusal.Code == cause) })
				})
				if n := good(name); n > 0 {
					t.Errorf("got %d good readings of %s, want none", n, name)
				}
			}
			for i, name := range []string{"duct-01", "duct-02", "duct-03"} {
				for _, rd := range r.Readings(name) {
					mm := rd.Low.V.Millimetres()
					if rd.Refusal == nil && (mm < float64(101+i) || mm > float64(102+i) || !strings.HasPrefix(string(rd.Frame), fmt.Sprintf("0%d,", i+1))) {
						t.Errorf("%s: got %v mm from %q, want %d.xx of its own answer", name, mm, rd.Frame, 101+i)
					}
				}
			}
		})
	}
}

// One that is switched off holds the others up for no longer than it must, and says nothing in their place.
func TestAskedInLinesWithoutAnswer(t *testing.T) {
	r := ingesttest.Run(t, lines(t, peer(t, false, ""), false, "", "01", "05"))
	ingesttest.Eventually(t, "ten answers beside one that does not", func() bool { return len(r.Readings("duct-01")) >= 10 })
	if got := r.Readings("duct-05"); len(got) != 0 {
		t.Errorf("got %d readings of an instrument that never answered before its silence", len(got))
	}
}

func TestLinesAreRefused(t *testing.T) {
	decoder := func() (frame.Decoder, error) { return nil, nil }
	o := ingesttest.Options(t, nil, nil)
	for want, l := range map[string]ingest.LineTalk{"request": {Decoder: decoder, Terminator: "\n"}, "{address}": {Request: "READ\r", Decoder: decoder, Terminator: "\n"}} {
		_, err := ingest.NewPoll(ingest.PollOptions{Port: "a", Open: o.Open, Timeout: time.Second, Gap: time.Second, Character: time.Millisecond, Clock: o.Clock, Log: o.Log,
			Instruments: []ingest.Asked{{Address: "1", Every: time.Second}, {Address: "2", Every: time.Second}}, Lines: &l})
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want a refusal that names %s", err, want)
		}
	}
}

// A slave by libmodbus, compiled here: another implementation of both ends than the one of the other test.
func TestPollLibmodbusSlave(t *testing.T) {
	flags, err := exec.Command("pkg-config", "--cflags", "--libs", "libmodbus").Output()
	for _, name := range []string{"cc", "socat"} {
		if _, missing := exec.LookPath(name); missing != nil {
			err = missing
		}
	}
	if err != nil && os.Getenv("CI") == "true" {
		t.Fatalf("libmodbus-dev, pkg-config, gcc or socat missing: %v", err)
	} else if err != nil {
		t.Skipf("SKIPPED: libmodbus-dev, pkg-config, gcc or socat missing, no slave to ask: %v", err)
	}
	dir := t.TempDir()
	binary := filepath.Join(dir, "slave")
	args := append([]string{"-o", binary, "testdata/libmodbus_slave.c"}, strings.Fields(string(flags))...)
	if out, err := exec.Command("cc", args...).CombinedOutput(); err != nil {
		t.Fatalf("cc: %v\n%s", err, out)
	}
	near, far := filepath.Join(dir, "ttyMASTER"), filepath.Join(dir, "ttySLAVE")
	begin := func(name string, args ...string) {
		c := exec.Command(name, args...)
		c.Stderr = os.Stderr
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() {
			_ = c.Process.Kill() // it may have ended with the other
			_ = c.Wait()
		})
	}
	begin("socat", "pty,raw,echo=0,link="+near, "pty,raw,echo=0,link="+far)
	ingesttest.Eventually(t, "the pair of terminals", func() bool {
		_, a := os.Stat(near)
		_, b := os.Stat(far)
		return a == nil && b == nil
	})
	begin(binary, far, "17")
	o := asked(t, modbusPort(near, 300*time.Millisecond), nil, 300*time.Millisecond, ingest.Asked{Address: "17", Unit: 17, Every: 100 * time.Millisecond,
		Registers: map[string]modbus.Register{"low_mm": float(0, "ABCD"),
			"temperature_c": {Function: modbus.ReadInput, At: 7, Type: "int16", Scale: -0.015625}}})
	o.Silence = time.Minute
	r := ingesttest.Run(t, o)
	ingesttest.Eventually(t, "ten answers", func() bool { return len(r.Readings("duct-17")) >= 10 })
	for _, rd := range r.Readings("duct-17") {
		if rd.Refusal != nil || rd.Low.V.Millimetres() != 113.25 || rd.Temperature.V.Celsius() != 19.28125 {
			t.Errorf("got %v mm, %v °C, %v, want 113.25 mm and 1234/64 °C", rd.Low.V.Millimetres(), rd.Temperature.V.Celsius(), rd.Refusal)
		}
	}
}
