package alarms

import (
	"encoding/json"
	"fmt"
	"iter"
	"time"

	"manobridge/convert/alarm"
	"manobridge/publish/journal"
)

// EventCode is the code under which the journal has transitions; their notes are the messages that were told.
const EventCode = "alarm-event"

// Annunciations gathers from the events of a journal every call for a person, with when it was acknowledged and when its
// condition had gone. The loss of a measurement counts under the name of its limit with
// "/measurement", a door that is held open with "/door".
func Annunciations(events iter.Seq2[journal.Event, error]) ([]alarm.Annunciation, error) {
	var out []alarm.Annunciation
	latest := map[string]int{}
	for e, err := range events {
		if err != nil {
			return nil, err
		}
		if e.Code != EventCode {
			continue
		}
		var t struct {
			Limit, Alarm, Priority, State, Cause string
			Previous                             string `json:"previous_state"`
			Time                                 time.Time
			Annunciated, Simulated               bool
		}
		if err := json.Unmarshal([]byte(e.Note), &t); err != nil {
			return nil, fmt.Errorf("an alarm event of %s cannot be read: %w", e.Time.UTC().Format(time.RFC3339), err)
		}
		if t.Simulated {
			continue
		}
		name := t.Limit
		switch t.Alarm {
		case "fault":
			name += "/measurement"
		case "door":
			name += "/door"
		}
		if t.Annunciated {
			latest[name] = len(out)
			out = append(out, alarm.Annunciation{Alarm: name, Priority: t.Priority, At: t.Time})
			continue
		}
		i, known := latest[name]
		if !known {
			continue
		}
		if a := &out[i]; t.Cause == string(alarm.ByAck) && a.Acknowledged.IsZero() {
			a.Acknowledged = t.Time
		}
		switch alarm.State(t.State) {
		case alarm.Normal, alarm.ReturnedUnack, alarm.LatchedUnack, alarm.LatchedAcknowledged:
			if a := &out[i]; a.Cleared.IsZero() && t.Cause == string(alarm.ByCondition) {
				a.Cleared = t.Time
			}
		}
	}
	return out, nil
}
