package publish

import (
	"encoding/json"
	"time"

	"manobridge/convert"
)

// Causes of this package, beside those of convert. The status words are those of OPC UA 1.05: a value that is not
// there yet, and a source taken out of service on purpose. Source: OPC Foundation, StatusCode.csv.
const (
	CauseNoReadingYet convert.Cause = "no-reading-yet"  // the bridge has just started
	CausePlannedStop  convert.Cause = "bridge-stopping" // the bridge was asked to stop
	CauseRemoved      convert.Cause = "not-configured"  // the instrument was taken out of the configuration

	codeBadWaitingForInitialData = 0x80320000
	codeBadOutOfService          = 0x808D0000
)

// State is the retained word on one instrument: how far its values can be trusted now. A subscriber treats the
// instrument as bad once ValidFor has gone by without a new one.
type State struct {
	Instrument string
	Time       time.Time // of the reading that decided it, or of the start or stop
	Status     convert.Status
	StatusCode uint32
	NE107      convert.NE107
	Causes     []convert.Cause
	LastGood   time.Time // zero: none since the start
	Bridge     string
	Run        string
	ValidFor   time.Duration
}

// StateOf gives the state that follows from before when r arrives.
func StateOf(before State, r *convert.Result) State {
	s := before
	s.Instrument, s.Time, s.Run = r.Instrument, r.ReceivedAt, r.Run
	s.Status, s.StatusCode, s.NE107, s.Causes = r.Status, r.StatusCode, r.NE107, r.Causes
	if r.Status == convert.Good {
		s.LastGood = r.ReceivedAt
	}
	return s
}

// Starting gives the state before the first reading.
func Starting(instrument, bridge, run string, now time.Time, validFor time.Duration) State {
	return State{
		Instrument: instrument, Time: now, Bridge: bridge, Run: run, ValidFor: validFor,
		Status: convert.Bad, StatusCode: codeBadWaitingForInitialData, NE107: convert.FunctionCheck,
		Causes: []convert.Cause{CauseNoReadingYet},
	}
}

// Stopping gives the state at a planned stop.
func (s State) Stopping(now time.Time) State { return s.outOfService(now, CausePlannedStop) }

// Removed gives the last state of an instrument that is taken out of the configuration.
func (s State) Removed(now time.Time) State { return s.outOfService(now, CauseRemoved) }

func (s State) outOfService(now time.Time, why convert.Cause) State {
	s.Time = now
	s.Status, s.StatusCode, s.NE107 = convert.Bad, codeBadOutOfService, convert.FunctionCheck
	s.Causes = []convert.Cause{why}
	return s
}

// SameWord tells whether a and b say the same about the instrument, whatever their times.
func SameWord(a, b State) bool {
	if a.Status != b.Status || a.StatusCode != b.StatusCode || a.NE107 != b.NE107 || len(a.Causes) != len(b.Causes) {
		return false
	}
	for i := range a.Causes {
		if a.Causes[i] != b.Causes[i] {
			return false
		}
	}
	return true
}

// JSON gives the message.
func (s State) JSON() []byte {
	causes := s.Causes
	if causes == nil {
		causes = []convert.Cause{}
	}
	var lastGood *time.Time
	if !s.LastGood.IsZero() {
		utc := s.LastGood.UTC()
		lastGood = &utc
	}
	return encode(struct {
		Time       time.Time       `json:"time"`
		Instrument string          `json:"instrument"`
		Status     string          `json:"status"`
		StatusCode uint32          `json:"status_code"`
		NE107      string          `json:"ne107"`
		Causes     []convert.Cause `json:"causes"`
		LastGood   *time.Time      `json:"last_good,omitempty"`
		Bridge     string          `json:"bridge"`
		Run        string          `json:"run"`
		ValidFor   float64         `json:"valid_for_s"`
		Schema     int             `json:"schema"`
	}{s.Time.UTC(), s.Instrument, s.Status.String(), s.StatusCode, string(s.NE107), causes, lastGood,
		s.Bridge, s.Run, s.ValidFor.Seconds(), Schema})
}

// About is the retained description of one instrument.
type About struct {
	Instrument string
	Bridge     string
	Kind       string            // of geometry, as in the configuration
	Liquid     string            // as in the configuration
	Quantity   convert.ValueKind // which pressure its results have
	RangePa    [2]float64        // stated range of that pressure, in Pa
	ZeroDate   string            // when the zero was taken, as RFC 3339 date or time; empty: not stated
	Config     string            // hash of the coefficient set
}

// JSON gives the message. Every pressure of the bridge is in pascals.
func (a About) JSON() []byte {
	quantity := "differential_pressure"
	if a.Quantity == convert.AbsoluteValue {
		quantity = "absolute_pressure"
	}
	return encode(struct {
		Instrument string     `json:"instrument"`
		Bridge     string     `json:"bridge"`
		Kind       string     `json:"kind"`
		Liquid     string     `json:"liquid"`
		Quantity   string     `json:"quantity"`
		Unit       string     `json:"unit"`
		RangePa    [2]float64 `json:"range_pa"`
		ZeroDate   string     `json:"zero_date,omitempty"`
		Config     string     `json:"config"`
		Schema     int        `json:"schema"`
	}{a.Instrument, a.Bridge, a.Kind, a.Liquid, quantity, "Pa", a.RangePa, a.ZeroDate, a.Config, Schema})
}

// Presence is the retained word on the bridge itself.
type Presence string

// The three. Lost is the will: the broker publishes it when the connection ends without a word.
const (
	Present Presence = "present"
	Leaving Presence = "leaving"
	Lost    Presence = "lost"
)

// JSON gives the message. since is when the connection was made or, for Leaving, the moment of leaving; the will
// carries the time of the connection, as nobody knows the time of a loss beforehand.
func (p Presence) JSON(bridge, run string, since time.Time) []byte {
	return encode(struct {
		Bridge   string    `json:"bridge"`
		Presence Presence  `json:"presence"`
		Run      string    `json:"run"`
		Since    time.Time `json:"since"`
		Schema   int       `json:"schema"`
	}{bridge, p, run, since.UTC(), Schema})
}

// encode is for structs of plain fields, which cannot fail but for a number JSON lacks; that becomes no message.
func encode(v any) []byte {
	b, err := json.Marshal(v)
	if err != nil {
		return nil
	}
	return b
}
