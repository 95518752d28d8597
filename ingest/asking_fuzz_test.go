package ingest_test

import (
	"bytes"
	"context"
	"errors"
	"io"
	"log/slog"
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"manobridge/ingest"
	"manobridge/ingest/frame"
)

// said is a port that gives what it was told to, in pieces, and then nothing. Its time passes as it is read.
type said struct {
	rest  []byte
	piece int
	now   time.Duration
	asked []byte
}

type nothingCame struct{ error }

func (nothingCame) Timeout() bool { return true }

func (s *said) Read(p []byte) (int, error) {
	n := copy(p, s.rest[:min(s.piece, len(s.rest))])
	s.rest = s.rest[n:]
	if n == 0 {
		s.now += 100 * time.Millisecond
		return 0, nothingCame{errors.New("nothing came")}
	}
	s.now += time.Millisecond
	return n, nil
}

func (s *said) Write(p []byte) (int, error) {
	s.asked = append(s.asked, p...)
	return len(p), nil
}

func (*said) ResetInputBuffer() error { return nil }
func (*said) Close() error            { return nil }

// Whatever comes where an answer is waited for: a value is that of a line with the address that was asked, behind the echo, and
// with the prompt behind it where there is one; anything else is a refusal or no answer.
func FuzzAnswerInLines(f *testing.F) {
	for _, seed := range []string{"07,12.5\n", "07,12.5\n> ", "> 07,12.5\n> ", "> 07,12.5\n", "#07\r07,12.5\n> ", "07,12.5\n07,13\n> ", "08,12.5\n> ", "07,----\n", "07,1", "\x00\xff,\n07,2\n",
		"07,1\n07,2\n> ", "07,1e400\n> ", ">>>>>", "07,> 5\n> "} {
		for _, piece := range []byte{1, 3, 200} {
			for _, prompts := range []bool{false, true} {
				f.Add([]byte(seed), piece, false, prompts)
				f.Add([]byte("#07\r"+seed), piece, true, prompts)
			}
		}
	}
	f.Fuzz(func(t *testing.T, stream []byte, piece byte, echo, prompts bool) {
		prompt := ""
		if prompts {
			prompt = "> "
		}
		port := &said{rest: bytes.Clone(stream), piece: int(piece)%256 + 1, now: time.Hour}
		p, err := ingest.NewPoll(ingest.PollOptions{Port: "hall", Open: func(context.Context) (io.ReadCloser, error) { return port, nil },
			Instruments: []ingest.Asked{{Address: "07", Every: time.Second}}, Timeout: 300 * time.Millisecond, Gap: 200 * time.Millisecond, Echo: echo,
			Character: time.Millisecond, Log: slog.New(slog.DiscardHandler),
			Clock: ingest.Clock{Now: func() time.Time { return time.Unix(0, 0) }, SinceStart: func() time.Duration { return port.now }},
			Lines: &ingest.LineTalk{Request: "#{address}\r", Prompt: prompt, Terminator: "\n", Decoder: func() (frame.Decoder, error) {
				return frame.New(frame.Options{Format: "delimited", Separator: ",", Fields: []string{"address", "low_mm"}})
			}}})
		if err != nil {
			t.Fatal(err)
		}
		asking, err := p.Open(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		var raw [2048]byte
		n, err := asking.Read(raw[:])
		if string(port.asked) != "#07\r" {
			t.Fatalf("got the question %q, want %q", port.asked, "#07\r")
		}
		if err != nil {
			return // no answer
		}
		decoder := p.Decoder()
		decoder.Feed(raw[:n], frame.Stamp{})
		var got frame.Frame
		if !decoder.Next(&got) {
			t.Fatalf("got no frame of the bytes %q", raw[:n])
		}
		if got.Refusal != nil {
			return
		}
		before, behind, there := bytes.Cut(stream, got.Raw)
		address, value, _ := strings.Cut(string(got.Raw), ",")
		mm, err := strconv.ParseFloat(strings.TrimSpace(value), 64)
		switch {
		case !there || len(got.Raw) == 0:
			t.Errorf("got %q, which is not in %q", got.Raw, stream)
		case strings.TrimSpace(address) != "07":
			t.Errorf("got a value of %q, and 07 was asked", got.Raw)
		case err != nil || math.Abs(got.Low.V.Millimetres()-mm) > 1e-9*math.Abs(mm):
			t.Errorf("got %v mm of %q", got.Low.V.Millimetres(), got.Raw)
		case echo && !bytes.HasPrefix(append(before, got.Raw...), []byte("#07\r")):
			t.Errorf("got %q of %q, which does not begin with the question", got.Raw, stream)
		case prompts && !bytes.Contains(behind, []byte(prompt)):
			t.Errorf("got %q of %q, with no prompt behind it", got.Raw, stream)
		}
	})
}
