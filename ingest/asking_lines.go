package ingest

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"time"

	"manobridge/convert"
	"manobridge/ingest/frame"
)

// LineTalk is how instruments are asked that answer in lines of text.
//
// An answer without an address is that of whom was asked; nothing else ties the two together. So nobody is asked before
// the line has been silent for the timeout after an answer that did not come, was damaged, or was another's: an answer that
// is later than twice the timeout could still be taken for the next one's. The timeout is to be longer than the slowest.
type LineTalk struct {
	// Request is what is sent, its line end included. {address} stands for the address.
	Request string
	// Prompt is what the instrument sends after its answer to say that it may be asked again; empty for none.
	Prompt string
	// Decoder makes a decoder for one answer.
	Decoder func() (frame.Decoder, error)
	// Terminator ends a line, as an answer may begin anywhere after one.
	Terminator string
}

// AddressMark is what stands for the address in a request.
const AddressMark = "{address}"

// longestAnswer bounds what is read for one answer, echo and prompt included.
const longestAnswer = 2048

// roundLine asks one instrument, and gives the bytes of its answer without echo and prompt.
func (a *asking) roundLine(in *planned, raw []byte) ([]byte, outcome, error) {
	talk := a.p.o.Lines
	request := []byte(strings.ReplaceAll(talk.Request, AddressMark, in.Address))
	sent, err := a.send(request)
	if err != nil {
		return nil, outcome{}, err
	}
	heard, f, err := a.answerLine(talk, request, sent, raw[:0])
	switch {
	case isTimeout(err) && len(heard) == 0:
		return nil, outcome{}, a.quiet(noAnswer{in.Address})
	case isTimeout(err):
		refusal := &convert.Refusal{Code: convert.FrameFormat, Field: "answer", Seen: fmt.Sprintf("ended after %d bytes: %q", len(heard), start(heard)),
			Allowed: "a whole line", Check: "cable, terminator and gap"}
		return heard, outcome{Frame: frame.Frame{Refusal: refusal}, cut: true}, a.quiet(nil)
	case err != nil:
		return nil, outcome{}, err
	}
	if len(f.Address) > 0 && string(f.Address) != in.Address { // a form without an address has an empty one
		f = frame.Frame{Refusal: &convert.Refusal{Code: convert.FrameAddress, Field: "answer", Seen: fmt.Sprintf("is from address %q", start(f.Address)),
			Allowed: fmt.Sprintf("address %q, which was asked", in.Address), Check: "timeout, which must be longer than the slowest answer, and two instruments with one address"}}
	}
	if f.Refusal != nil && f.Refusal.Code != convert.FrameErrorWord { // that was a whole answer
		return heard, outcome{Frame: f}, a.quiet(nil)
	}
	return heard, outcome{Frame: f}, nil
}

// start is the beginning of foreign bytes.
func start(b []byte) []byte { return b[:min(len(b), 64)] }

// answerLine reads until the decoder has found a frame, and the prompt behind it has come.
func (a *asking) answerLine(talk *LineTalk, request []byte, sent time.Duration, raw []byte) ([]byte, frame.Frame, error) {
	var f frame.Frame
	decoder, err := talk.Decoder()
	if err != nil {
		return nil, f, err
	}
	decoder.Feed([]byte(talk.Terminator), a.p.o.Clock.stamp()) // what comes begins a line
	decoder.Next(&f)
	clock := a.p.o.Clock.SinceStart
	echo := request
	if !a.p.o.Echo {
		echo = nil
	}
	var all [longestAnswer]byte
	n, done := 0, 0 // done is how much of all the decoder has, or is echo or prompt
	begun, found := false, false
	behind := 0 // where the frame that was found ends
	last := sent
	for n < len(all) {
		k, err := a.port.Read(all[n:])
		n += k
		if k > 0 {
			last = clock()
			a.lastByte = max(a.lastByte, last)
		}
		switch {
		case isTimeout(err):
			limit := sent + a.p.o.Timeout
			if n > len(echo) {
				limit = last + a.p.o.Gap
			}
			if clock() < limit {
				continue
			}
			return append(raw, all[min(len(echo), n):n]...), f, noAnswer{}
		case err != nil:
			return nil, f, err
		case clock() > sent+10*a.p.o.Timeout+longestAnswer*a.p.o.Character: // nothing that dribbles holds the line up for ever
			return append(raw, all[min(len(echo), n):n]...), f, noAnswer{}
		}
		if len(echo) > 0 {
			if m := min(n, len(echo)); !bytes.Equal(all[:m], echo[:m]) {
				return append(raw, all[:n]...), frame.Frame{Refusal: &convert.Refusal{Code: convert.FrameFormat, Field: "echo", Seen: fmt.Sprintf("is %q", start(all[:n])),
					Allowed: fmt.Sprintf("the question, %q", start(echo)), Check: "echo in the configuration, and two senders at once"}}, nil
			}
			if n <= len(echo) {
				continue
			}
			done = max(done, len(echo))
		}
		if len(talk.Prompt) > 0 && !begun { // one that was late
			for bytes.HasPrefix(all[done:n], []byte(talk.Prompt)) {
				done += len(talk.Prompt)
			}
			if strings.HasPrefix(talk.Prompt, string(all[done:n])) {
				continue // the rest of another may follow
			}
		}
		if !found && done < n {
			decoder.Feed(all[done:n], a.p.o.Clock.stamp())
			done, begun = n, true
			if found = decoder.Next(&f); found {
				f.Raw, f.Address = bytes.Clone(f.Raw), bytes.Clone(f.Address)
				behind = len(echo) + max(0, bytes.Index(all[len(echo):n], f.Raw)) + len(f.Raw)
			}
		}
		if found && (talk.Prompt == "" || bytes.Contains(all[min(behind, n):n], []byte(talk.Prompt))) {
			return append(raw, f.Raw...), f, nil
		}
	}
	return append(raw, all[len(echo):min(n, len(echo)+512)]...), frame.Frame{Refusal: &convert.Refusal{Code: convert.FrameOverlong, Field: "answer",
		Seen: fmt.Sprintf("had no end within %d bytes", n), Allowed: "one line", Check: "baud rate, terminator and frame"}}, nil
}

// quiet waits until the line has been silent for the timeout, and gives back why. A line that never falls silent is left
// after ten timeouts.
func (a *asking) quiet(why error) error {
	clock := a.p.o.Clock.SinceStart
	last := clock()
	for latest := last + 10*a.p.o.Timeout; clock() < latest; {
		var rest [256]byte
		n, err := a.port.Read(rest[:])
		if n > 0 {
			last = clock()
			a.lastByte = last
		}
		switch {
		case err != nil && !isTimeout(err):
			return err
		case clock()-last >= a.p.o.Timeout:
			return why
		}
	}
	return why
}

// send sends a question after the silence that is wanted, and gives the moment its last character is on the line.
func (a *asking) send(question []byte) (time.Duration, error) {
	clock := a.p.o.Clock.SinceStart
	if !a.wait(a.lastByte + max(a.p.o.silence(), a.p.o.Turnaround) - clock()) {
		return 0, errClosedPort
	}
	if err := a.port.ResetInputBuffer(); err != nil {
		return 0, err
	}
	if _, err := a.port.Write(question); err != nil {
		return 0, err
	}
	// Write returns when the system has taken the bytes; the line needs longer.
	a.lastByte = clock() + time.Duration(len(question))*a.p.o.Character
	return a.lastByte, nil
}

// checkLines says what is wrong with the way to ask in lines.
func (o *PollOptions) checkLines() (problems []error) {
	t := o.Lines
	if t.Request == "" || t.Decoder == nil || t.Terminator == "" {
		problems = append(problems, errors.New("lines: request, decoder or terminator: missing"))
	} else if _, err := t.Decoder(); err != nil {
		problems = append(problems, err)
	}
	if o.Gap <= 0 {
		problems = append(problems, errors.New("lines: gap: not above 0"))
	}
	if len(o.Instruments) > 1 && !strings.Contains(t.Request, AddressMark) {
		problems = append(problems, fmt.Errorf("lines: the request %q has no %s, and there are %d instruments", t.Request, AddressMark, len(o.Instruments)))
	}
	return problems
}
