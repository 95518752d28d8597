package bridge

import (
	"context"
	"encoding/json"

	"manobridge/cmd/manobridge/alarms"
	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/alarm"
	"manobridge/publish"
	"manobridge/publish/journal"
)

// codeAlarmEvent is the code of the events of the journal that are transitions of alarms; their notes are the messages.
const codeAlarmEvent = alarms.EventCode

// openLimits makes the alarms of a configuration, in the states that were kept.
func (b *Bridge) openLimits(ctx context.Context, c *configs.Config) error {
	b.condition.keeper = nil
	if len(c.Limits) == 0 {
		return nil
	}
	k, err := alarms.New(ctx, alarms.Options{
		Limits: c.Limits, Bridge: c.Bridge, Run: b.run, Log: b.o.Log,
		Converter: func(name string) *convert.Converter { return b.instruments[name].converter },
		Store:     limitStore{b.journal}, Ledger: limitLedger{b.journal}, Board: limitBoard{b}, Record: b.recordTransition,
	}, b.moment())
	if err != nil {
		return err
	}
	b.condition.keeper = k
	return nil
}

// recordTransition keeps a transition for whoever works out the figures of the alarms.
func (b *Bridge) recordTransition(e publish.AlarmEvent) {
	_ = b.noted(b.journal.RecordEvent(context.Background(), journal.Event{Run: b.run, Time: e.Time, SinceStart: b.clock.SinceStart(),
		Code: codeAlarmEvent, Instrument: e.Limit, Note: string(e.JSON())}), "event", codeAlarmEvent)
}

// found is an event of this moment about one instrument.
func (b *Bridge) found(code string, r *convert.Result, note string) journal.Event {
	return journal.Event{Run: b.run, Time: r.ReceivedAt, SinceStart: r.SinceStart, Code: code, Instrument: r.Instrument, Note: note}
}

// limitStore keeps states of limits in the journal.
type limitStore struct{ j *journal.Journal }

func (s limitStore) Keep(ctx context.Context, name string, value []byte) error {
	return s.j.Keep(ctx, name, value)
}

func (s limitStore) Kept(ctx context.Context, name string) ([]byte, bool, error) {
	k, found, err := s.j.Kept(ctx, name)
	return k.Value, found, err
}

// limitLedger keeps excursions in the journal.
type limitLedger struct{ j *journal.Journal }

func (l limitLedger) BeginExcursion(ctx context.Context, e alarm.Excursion) (int64, error) {
	page, err := excursionPage(0, e)
	if err != nil {
		return 0, err
	}
	return l.j.AddExcursion(ctx, page)
}

func (l limitLedger) UpdateExcursion(ctx context.Context, id int64, e alarm.Excursion) error {
	page, err := excursionPage(id, e)
	if err != nil {
		return err
	}
	return l.j.UpdateExcursion(ctx, page)
}

func excursionPage(id int64, e alarm.Excursion) (journal.Excursion, error) {
	text, err := json.Marshal(e)
	return journal.Excursion{ID: id, Limit: e.Limit, Start: e.Start, End: e.End, JSON: string(text)}, err
}

// limitBoard tells on topics, where there is a broker.
type limitBoard struct{ b *Bridge }

func (l limitBoard) AlarmState(limit string, message []byte) {
	if l.b.mqtt != nil {
		l.b.mqtt.AlarmState(limit, message)
	}
}

func (l limitBoard) AlarmEvent(e publish.AlarmEvent) {
	if l.b.mqtt != nil {
		l.b.mqtt.AlarmEvent(e)
		return
	}
	if k := l.b.condition.keeper; k != nil {
		k.Sent(e.ID) // there is nobody to send it to; the journal has it
	}
}
