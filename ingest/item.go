package ingest

import (
	"time"

	"manobridge/convert"
)

// Item is what a Source hands over: an event of the port where Event is set, otherwise a reading.
type Item struct {
	Reading convert.Reading
	Event   *PortEvent
}

// EventKind says what happened to a port.
type EventKind string

// The kinds.
const (
	PortOpened    EventKind = "opened"   // the port is open; after an outage Lasted tells how long it was
	PortUnopened  EventKind = "unopened" // the port cannot be opened, and is tried again; said when the reason changes
	PortLost      EventKind = "lost"     // the port vanished while open
	FramesRefused EventKind = "refused"  // frames that belong to no instrument were refused
	PortStalled   EventKind = "stalled"  // reading waited because what was read was not taken; the line may have overrun
	PortBehind    EventKind = "behind"   // instruments that are asked cannot be asked as often as they should
	PortKeepsUp   EventKind = "keeps-up" // they can again; Lasted tells how long they could not
)

// PortEvent is news of a port rather than of one instrument. (Run, Port, Seq) names it for ever.
type PortEvent struct {
	Run  string
	Port string
	Seq  uint64 // counts the port's events in this run, from 1

	ReceivedAt time.Time     // wall clock, UTC
	SinceStart time.Duration // monotonic, from the start of the run

	Kind EventKind
	// Refusal says what was seen, for FramesRefused, PortUnopened, PortLost and PortBehind.
	Refusal *convert.Refusal
	// Frame is the latest of the refused frames, at most 512 bytes; nil for other kinds.
	Frame []byte
	// Count is how many frames or attempts the event stands for, at least 1. The first of its cause is told at once, the
	// following ones once a minute.
	Count uint64
	// Bytes of an unfinished frame that went with the port, for PortLost.
	Bytes int
	// Lasted is how long the outage or the wait was, for PortOpened, PortStalled and PortKeepsUp.
	Lasted time.Duration
	// Wanted is the interval at which the instrument that was late is to be asked, and Achieved the mean one since the start
	// or the word before, for PortBehind.
	Wanted, Achieved time.Duration
}
