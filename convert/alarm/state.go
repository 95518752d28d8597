package alarm

import "time"

// State is one of the nine states of an alarm. The zero value is none of them.
type State string

// The states of IEC 62682 and ISA-18.2, with the letters of the standard's diagram (from memory).
const (
	Normal              State = "normal"               // A: absent, acknowledged
	Unacknowledged      State = "unacknowledged"       // B: present, not acknowledged
	Acknowledged        State = "acknowledged"         // C: present, acknowledged
	ReturnedUnack       State = "returned"             // D: absent again, not acknowledged
	LatchedUnack        State = "latched"              // E: absent again and latched, not acknowledged
	LatchedAcknowledged State = "latched-acknowledged" // F: absent again and latched, acknowledged
	Shelved             State = "shelved"              // G: set aside by a person for a limited time
	SuppressedByDesign  State = "suppressed-by-design" // H: by the state of the plant alone
	OutOfService        State = "out-of-service"       // I: by maintenance
)

// Letter gives the letter of the standard's diagram, 0 for no state.
func (s State) Letter() byte {
	for i, known := range [...]State{Normal, Unacknowledged, Acknowledged, ReturnedUnack, LatchedUnack, LatchedAcknowledged,
		Shelved, SuppressedByDesign, OutOfService} {
		if s == known {
			return 'A' + byte(i)
		}
	}
	return 0
}

// Memory is everything an alarm remembers. It survives a restart as it is, but for Last, as nothing has been read then:
// durations are what has gone by or is left, so the time that no bridge was running counts for nothing. Active and
// Unacknowledged are two memories; the state is derived from them, and suppression hides both without stopping either.
type Memory struct {
	Active         bool `json:"active"`
	Unacknowledged bool `json:"unacknowledged"`
	Latched        bool `json:"latched"`
	// Occurrence counts annunciations, from 1. A request that names one acts on no later one.
	Occurrence uint64 `json:"occurrence"`

	// Last is the condition the latest evaluation saw, Pending how long it has held against Active.
	Last    Condition     `json:"last"`
	Pending time.Duration `json:"pending_ns"`
	// Standing is how long the alarm has been active since it was acknowledged, where there is a re-alarm time.
	Standing time.Duration `json:"standing_ns"`

	ShelvedLeft  time.Duration `json:"shelved_left_ns"` // more than 0 while shelved
	OneShot      bool          `json:"one_shot"`
	Suppressed   bool          `json:"suppressed"`
	OutOfService bool          `json:"out_of_service"`
}

// Under is the state without shelving, suppression and service.
func (m *Memory) Under() State {
	switch {
	case m.Active && m.Unacknowledged:
		return Unacknowledged
	case m.Active:
		return Acknowledged
	case m.Latched && m.Unacknowledged:
		return LatchedUnack
	case m.Latched:
		return LatchedAcknowledged
	case m.Unacknowledged:
		return ReturnedUnack
	}
	return Normal
}

// State is what is shown. Where several ways of suppression hold at once, out of service comes before suppressed by design
// and that before shelved; the order is our choice.
func (m *Memory) State() State {
	switch {
	case m.OutOfService:
		return OutOfService
	case m.Suppressed:
		return SuppressedByDesign
	case m.ShelvedLeft > 0:
		return Shelved
	}
	return m.Under()
}

// Hidden tells whether the alarm is kept from annunciating.
func (m *Memory) Hidden() bool { return m.OutOfService || m.Suppressed || m.ShelvedLeft > 0 }
