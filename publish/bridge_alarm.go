package publish

import "time"

// BridgeAlarm is the retained word on what is wrong with the bridge itself: a disk that is full, a port or a delivery that
// hangs. Notices are what it last did about its journal: set a damaged one aside, gave rows up for room.
type BridgeAlarm struct {
	Bridge   string
	Run      string
	Time     time.Time
	Since    time.Time // of the state
	Ailments []string  // none: it is well
	Notices  []BridgeNotice
}

// BridgeNotice is one thing that a person should know of.
type BridgeNotice struct {
	Time time.Time `json:"time"`
	Code string    `json:"code"`
	Text string    `json:"text"`
}

// JSON gives the message.
func (a BridgeAlarm) JSON() []byte {
	state := "well"
	if len(a.Ailments) > 0 {
		state = "ailing"
	} else {
		a.Ailments = []string{}
	}
	if a.Notices == nil {
		a.Notices = []BridgeNotice{}
	}
	return encode(struct {
		Bridge   string         `json:"bridge"`
		Run      string         `json:"run"`
		Time     time.Time      `json:"time"`
		State    string         `json:"state"`
		Since    time.Time      `json:"since"`
		Ailments []string       `json:"ailments"`
		Notices  []BridgeNotice `json:"notices"`
		Schema   int            `json:"schema"`
	}{a.Bridge, a.Run, a.Time.UTC(), state, a.Since.UTC(), a.Ailments, a.Notices, Schema})
}
