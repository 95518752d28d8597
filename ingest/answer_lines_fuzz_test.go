package ingest_test

import (
	"bytes"
	"context"
	"io"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"manobridge/convert/quantity"
	"manobridge/ingest"
	"manobridge/ingest/frame"
	"manobridge/ingest/ingesttest"
)

// answering is a port on a clock of its own that answers each question with what stands in answer, a few bytes a read.
type answering struct {
	answer []byte // to the next question
	step   int
	rest   []byte
	now    time.Duration
}

// inVain is what a read of answering ends with when nothing came.
type inVain struct{}

func (inVain) Error() string { return "nothing came" }
func (inVain) Timeout() bool { return true }

func (a *answering) Read(b []byte) (int, error) {
	if len(a.rest) == 0 {
		a.now += 100 * time.Millisecond
		return 0, inVain{}
	}
	n := copy(b, a.rest[:min(a.step, len(a.rest))])
	a.now += time.Duration(n) * time.Millisecond
	a.rest = a.rest[n:]
	return n, nil
}

func (a *answering) Write(b []byte) (int, error) {
	a.rest, a.answer = a.answer, nil
	return len(b), nil
}

func (a *answering) ResetInputBuffer() error { a.rest = nil; return nil }
func (a *answering) Close() error            { return nil }

// answerForms are ways in which an instrument that is asked as 03 answers, each with a good answer of 12.5 mm at 21 °C.
var answerForms = []struct {
	options frame.Options
	good    string
	address *regexp.Regexp // of a line that says itself whose it is; nil where none does
}{
	{ingesttest.Bench(), "03,12.5,21\r\n", regexp.MustCompile(`^[ \t]*03[ \t]*,`)},
	{frame.Options{Format: "delimited", Separator: "whitespace", Fields: []string{"low_mm", "temperature_c"}}, "12.5 21\r\n", nil},
	{frame.Options{Format: "pattern", Pattern: `(?P<address>[0-9]{2}) (?P<low_mm>[-+0-9.eE]+) mm (?P<temperature_c>[-+0-9.]+) C`}, "03 12.5 mm 21 C\n", regexp.MustCompile(`^03 `)},
}

// number finds what may be a number in a line, by the grammar of decimal numbers.
var number = regexp.MustCompile(`[-+]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][-+]?[0-9]+)?`)

// stands tells whether a value is that of a number in the line.
func stands[T comparable](line []byte, value T, of func(float64) T) bool {
	for _, text := range number.FindAllString(string(line), -1) {
		if v, err := strconv.ParseFloat(text, 64); err == nil && of(v) == value {
			return true
		}
	}
	return false
}

// FuzzAnswerInLines answers anything, cut anywhere, to one that asks in lines. It must not panic; what it makes of the bytes
// must be one answer or none; a value must stand in them, behind the echo, before the prompt and under the address asked; and the
// next answer, which is good, must be taken.
func FuzzAnswerInLines(f *testing.F) {
	for form, seed := range []string{"03,118.42,22.6\r\n> ", "118.42 22.6\r\n", "03 +118.42 mm 22.6 C\r\n> ", "04,118.42,22.6\n> ", "04 1 mm 2", "03 118.42 mm 22.6 C\n",
		"> > 03,1,2\n", "03,> 1,2\n> ", "> 03,1,2\n", "\r\n\r\n", "#03\r#03\r03,1,2\n", "03,OVER,2\n>", "\x00\xff\n03,1,2\n", "01,9,9\r\n03,1,2\r\n> ", strings.Repeat("7", 3000), strings.Repeat("03,1", 200) + "\n"} {
		for _, manner := range []byte{0, 1, 2, 3, 5, 7} {
			f.Add([]byte(seed), byte(form), manner, byte(form+3*int(manner)))
		}
	}
	const request = "#03\r"
	f.Fuzz(func(t *testing.T, data []byte, form, manner, step byte) {
		k := answerForms[int(form)%len(answerForms)]
		echo, prompt, echoed := manner&1 != 0, "", manner&4 != 0
		if manner&2 != 0 {
			prompt = "> "
		}
		port := &answering{step: int(step)%64 + 1, now: time.Hour}
		o := ingesttest.Options(t, func(context.Context) (io.ReadCloser, error) { return port, nil }, nil)
		o.Clock = ingest.Clock{Now: func() time.Time { return time.Unix(0, 0).Add(port.now) }, SinceStart: func() time.Duration { return port.now }}
		p, err := ingest.NewPoll(ingest.PollOptions{Port: o.Port, Open: o.Open, Timeout: 300 * time.Millisecond, Gap: 100 * time.Millisecond, Echo: echo,
			Character: time.Millisecond, Clock: o.Clock, Log: o.Log, Instruments: []ingest.Asked{{Address: "03", Every: time.Second}},
			Lines: &ingest.LineTalk{Request: "#{address}\r", Prompt: prompt, Terminator: "\n", Decoder: func() (frame.Decoder, error) { return frame.New(k.options) }}})
		if err != nil {
			t.Fatal(err)
		}
		asking, err := p.Open(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		decoder := p.Decoder()
		// round gives the frame made of an answer; none where nothing came.
		round := func(answer []byte) (fr frame.Frame, some bool) {
			t.Helper()
			port.answer = answer
			port.now += time.Minute // the next is due, and so is one that did not answer
			var b [512]byte
			n, err := asking.Read(b[:])
			if timeout, ok := err.(interface{ Timeout() bool }); n == 0 && ok && timeout.Timeout() {
				return fr, false
			}
			if err != nil || n == 0 {
				t.Fatalf("got %d bytes and %v of %q, want an answer or none in time", n, err, answer)
			}
			decoder.Feed(b[:n], frame.Stamp{Mono: port.now})
			if !decoder.Next(&fr) || !fr.Addressed || string(fr.Address) != "03" {
				t.Fatalf("got %+v of %q, want a frame of whom was asked", fr, answer)
			}
			if decoder.Next(&frame.Frame{}) {
				t.Fatalf("got two frames of %q, want one", answer)
			}
			return fr, true
		}
		answer := data
		if echoed {
			answer = append([]byte(request), data...)
		}
		fr, some := round(answer)
		behind, hasEcho := bytes.CutPrefix(answer, []byte(request))
		if !echo {
			behind = answer
		}
		switch {
		case !some:
		case fr.Refusal != nil:
			if fr.Low.Set || fr.High.Set || fr.Temperature.Set {
				t.Fatalf("%q is refused and has values", answer)
			}
		case echo && !hasEcho:
			t.Fatalf("got %v mm of %q, want it refused: the echo is missing", fr.Low.V.Millimetres(), answer)
		case !bytes.Contains(behind, fr.Raw) || bytes.ContainsAny(fr.Raw, "\r\n"):
			t.Fatalf("got the line %q of %q, want one of it", fr.Raw, behind)
		case !bytes.Contains(behind[bytes.Index(behind, fr.Raw)+len(fr.Raw):], []byte(prompt)):
			t.Fatalf("got the line %q of %q, with no prompt behind it", fr.Raw, behind)
		case k.address != nil && !k.address.Match(fr.Raw):
			t.Fatalf("got %v mm of %q, want it refused: 03 was asked", fr.Low.V.Millimetres(), fr.Raw)
		case !stands(fr.Raw, fr.Low.V, quantity.Millimetres) || !stands(fr.Raw, fr.Temperature.V, quantity.Celsius):
			t.Fatalf("got %v mm, %v °C of %q, want numbers that stand there", fr.Low.V.Millimetres(), fr.Temperature.V.Celsius(), fr.Raw)
		}
		good := k.good + prompt
		if echo {
			good = request + good
		}
		if fr, some = round([]byte(good)); !some || fr.Refusal != nil || fr.Low != millimetres(12.5) || fr.Temperature != celsius(21) {
			t.Fatalf("got %v mm, %v °C, %v of %q after %q, want 12.5 mm and 21 °C", fr.Low.V.Millimetres(), fr.Temperature.V.Celsius(), fr.Refusal, good, answer)
		}
	})
}
