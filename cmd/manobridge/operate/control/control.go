// Package control is how a person's commands reach a running bridge: requests and their answers as JSON, over HTTP on a
// Unix socket beside the journal.
//
// Who asks is told by the kernel, from the credentials of the connection, and never by the request itself. What can be
// asked is registered by those who do it; the package does nothing itself, and refuses to listen anywhere but on a socket
// of this machine.
package control

import (
	"context"
	"encoding/json"
	"fmt"
)

// Request is what somebody asks of the bridge.
type Request struct {
	Name    string          `json:"name"`              // what to do: view, service, zero
	Subject string          `json:"subject,omitempty"` // to what: an instrument
	Args    json.RawMessage `json:"args,omitempty"`    // as the request of that name has them
	Why     string          `json:"why,omitempty"`

	// User is who asks, set by the server from the credentials of the connection.
	User string `json:"-"`
}

// Answer is what the bridge answers. Code is stable, Text is for a person.
type Answer struct {
	Done bool            `json:"done"`
	Code string          `json:"code"`
	Text string          `json:"text,omitempty"`
	Data json.RawMessage `json:"data,omitempty"`
}

// Handler does what one request asks. It may take its time, and must return when ctx ends: the one who asked has gone, or
// the bridge stops.
type Handler func(ctx context.Context, r Request) Answer

// The codes of answers that any request may get.
const (
	CodeDone      = "done"
	CodeNoRequest = "no-such-request"
	CodeMalformed = "request-malformed"
	CodeTooLarge  = "request-too-large"
	CodeBusy      = "too-many-requests"
	CodeNoWhy     = "no-why"
	CodeStopping  = "bridge-stopping"
	CodeFailed    = "failed"
)

// Done makes the answer of a request that was done. A value that cannot be JSON makes it a failed one.
func Done(text string, data any) Answer {
	a := Answer{Done: true, Code: CodeDone, Text: text}
	if data == nil {
		return a
	}
	raw, err := json.Marshal(data)
	if err != nil {
		return Refuse(CodeFailed, "the answer cannot be written: %v", err)
	}
	a.Data = raw
	return a
}

// Refuse makes the answer of a request that was not done.
func Refuse(code, format string, args ...any) Answer {
	return Answer{Code: code, Text: fmt.Sprintf(format, args...)}
}
