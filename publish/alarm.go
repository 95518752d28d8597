package publish

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"time"
)

// Bound is what a limit holds a value against. The numbers are in Pa, or with Rate in Pa/s; nil where there is none.
type Bound struct {
	Rate      bool
	Low, High *float64
}

// Judged is a value with what was made of it. Value and U are nil where nothing can be believed.
type Judged struct {
	Bound   Bound
	Value   *float64
	U       *float64 // expanded
	Verdict string   // inside, outside or cannot-tell
}

// judged has the unit in every key.
type judged struct {
	ValuePa  *float64 `json:"value_pa,omitempty"`
	UPa      *float64 `json:"expanded_uncertainty_pa,omitempty"`
	LowPa    *float64 `json:"low_pa,omitempty"`
	HighPa   *float64 `json:"high_pa,omitempty"`
	ValuePaS *float64 `json:"value_pa_s,omitempty"`
	UPaS     *float64 `json:"expanded_uncertainty_pa_s,omitempty"`
	LowPaS   *float64 `json:"low_pa_s,omitempty"`
	HighPaS  *float64 `json:"high_pa_s,omitempty"`
	Verdict  string   `json:"verdict"`
}

func (j Judged) wire() judged {
	if j.Bound.Rate {
		return judged{ValuePaS: j.Value, UPaS: j.U, LowPaS: j.Bound.Low, HighPaS: j.Bound.High, Verdict: j.Verdict}
	}
	return judged{ValuePa: j.Value, UPa: j.U, LowPa: j.Bound.Low, HighPa: j.Bound.High, Verdict: j.Verdict}
}

// AlarmOf is what a message says of the limit itself, the same in its state and in its events.
type AlarmOf struct {
	Limit       string   `json:"limit"`
	Bridge      string   `json:"bridge"`
	Run         string   `json:"run"`
	Instruments []string `json:"instruments"` // for a difference two: the first less the second
	Priority    string   `json:"priority"`
	Class       string   `json:"class"`
	Group       string   `json:"group,omitempty"`
	Response    string   `json:"response"`
	Document    string   `json:"reference,omitempty"`
	Version     string   `json:"reference_version,omitempty"`
}

// AlarmState is the retained word on one limit. A subscriber takes the limit for unwatched once ValidFor has gone by
// without a new one.
type AlarmState struct {
	AlarmOf
	Time time.Time
	Judged
	Decision string

	State      string // of IEC 62682: normal, unacknowledged, …
	Since      time.Time
	Occurrence uint64
	Raised     time.Time // of the latest occurrence; zero: none yet
	First      bool      // the first of its group

	Fault      string // state of the alarm for the loss of the measurement
	FaultSince time.Time
	Why        string // why nothing is known; empty where something is

	Door     string // open, closed or unknown; empty where there is none
	HeldOpen string // state of the alarm for a door that is held open; empty where there is none

	ShelvedLeft                     time.Duration
	OutsideLastHour, OutsideLastDay time.Duration
	ValidFor                        time.Duration
}

// JSON gives the message.
func (s AlarmState) JSON() []byte {
	return encode(struct {
		Time time.Time `json:"time"`
		AlarmOf
		State      string     `json:"state"`
		Since      *time.Time `json:"since,omitempty"`
		Occurrence uint64     `json:"occurrence"`
		Raised     *time.Time `json:"raised,omitempty"`
		First      bool       `json:"first"`
		judged
		Decision    string     `json:"decision"`
		Fault       string     `json:"fault"`
		FaultSince  *time.Time `json:"fault_since,omitempty"`
		Why         string     `json:"why,omitempty"`
		Door        string     `json:"door,omitempty"`
		HeldOpen    string     `json:"held_open,omitempty"`
		ShelvedLeft float64    `json:"shelved_left_s,omitempty"`
		Hour        float64    `json:"outside_last_hour_s"`
		Day         float64    `json:"outside_last_day_s"`
		ValidFor    float64    `json:"valid_for_s"`
		Schema      int        `json:"schema"`
	}{s.Time.UTC(), s.AlarmOf, s.State, moment(s.Since), s.Occurrence, moment(s.Raised), s.First, s.Judged.wire(), s.Decision, s.Fault,
		moment(s.FaultSince), s.Why, s.Door, s.HeldOpen, s.ShelvedLeft.Seconds(), s.OutsideLastHour.Seconds(), s.OutsideLastDay.Seconds(), s.ValidFor.Seconds(), Schema})
}

// AlarmEvent is one transition. It tells everything by itself, so that who reads it needs no other message.
type AlarmEvent struct {
	AlarmOf
	ID       string // names it for ever; a repeat has the same
	Sequence uint64 // counts the events of the limit, over restarts
	Alarm    string // limit, or fault for the loss of the measurement
	Time     time.Time
	Sent     time.Time
	Judged

	State, Previous string
	Cause           string // condition, acknowledged, shelved, …
	Occurrence      uint64
	Annunciated     bool // a person is called
	Raised          time.Time
	Causes          []string // of the readings, or why nothing is known
	First           bool

	By, Why   string // of a request
	Simulated bool   // a proof test
}

// JSON gives the message.
func (e AlarmEvent) JSON() []byte {
	causes := e.Causes
	if causes == nil {
		causes = []string{}
	}
	return encode(struct {
		ID       string    `json:"id"`
		Sequence uint64    `json:"sequence"`
		Time     time.Time `json:"time"`
		Sent     time.Time `json:"sent"`
		AlarmOf
		Alarm       string `json:"alarm"`
		State       string `json:"state"`
		Previous    string `json:"previous_state"`
		Cause       string `json:"cause"`
		Occurrence  uint64 `json:"occurrence"`
		Annunciated bool   `json:"annunciated"`
		judged
		Raised    *time.Time `json:"raised,omitempty"`
		Causes    []string   `json:"causes"`
		First     bool       `json:"first"`
		By        string     `json:"by,omitempty"`
		Why       string     `json:"why,omitempty"`
		Simulated bool       `json:"simulated,omitempty"`
		Schema    int        `json:"schema"`
	}{e.ID, e.Sequence, e.Time.UTC(), e.Sent.UTC(), e.AlarmOf, e.Alarm, e.State, e.Previous, e.Cause, e.Occurrence, e.Annunciated,
		e.Judged.wire(), moment(e.Raised), causes, e.First, e.By, e.Why, e.Simulated, Schema})
}

// AlarmRequest is what a person asks of a limit, as a message carries it.
type AlarmRequest struct {
	ID     string    `json:"id"` // of the asker's own; a repeat of it is answered and not done again
	Act    string    `json:"act"`
	Why    string    `json:"why"`
	Until  time.Time `json:"expires"` // after it the request is not done
	ForS   float64   `json:"for_s,omitempty"`
	Once   bool      `json:"one_shot,omitempty"`
	Saw    uint64    `json:"occurrence,omitempty"`
	Schema int       `json:"schema,omitempty"`
}

// ReadAlarmRequest reads a message. Keys it does not know are refused: a misspelt one would be passed over.
func ReadAlarmRequest(message []byte) (AlarmRequest, error) {
	const largest = 8 << 10
	var r AlarmRequest
	if len(message) > largest {
		return r, fmt.Errorf("a request of %d bytes; allowed: %d", len(message), largest)
	}
	d := json.NewDecoder(bytes.NewReader(message))
	d.DisallowUnknownFields()
	if err := d.Decode(&r); err != nil {
		return AlarmRequest{}, fmt.Errorf("a request that cannot be read: %w", err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return AlarmRequest{}, errors.New("a request with something after it")
	}
	return r, nil
}

// AlarmReply answers a request.
type AlarmReply struct {
	ID    string    `json:"id"`
	Limit string    `json:"limit"`
	User  string    `json:"user"`
	Done  bool      `json:"done"`
	Code  string    `json:"code"` // done, or why not
	Text  string    `json:"text"`
	State string    `json:"state,omitempty"`
	Time  time.Time `json:"time"`
}

// JSON gives the message.
func (r AlarmReply) JSON() []byte {
	r.Time = r.Time.UTC()
	return encode(struct {
		AlarmReply
		Schema int `json:"schema"`
	}{r, Schema})
}

func moment(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	t = t.UTC()
	return &t
}
