package configs

import "time"

// Limit is a bound on the pressure of one instrument, or on the difference of two, and what is done about it. No figure is
// built in: the number, and the document it comes from, are the site's.
type Limit struct {
	// Name is its key under limits, a level of its topics.
	Name string `yaml:"-"`

	// Of is the instrument whose pressure is bounded. Either this or difference.
	Of string `yaml:"of"`
	// Difference bounds the pressure of one instrument less that of another.
	Difference *LimitDifference `yaml:"difference"`

	// High is the upper bound with its unit, as "250 Pa" or "0.5 inH2O". With low it makes a window.
	High string `yaml:"high"`
	// Low is the lower bound with its unit, as "10 Pa".
	Low string `yaml:"low"`
	// KeepSign is the sign the pressure must keep: its reversal, which is the loss of a direction of flow, is the alarm.
	KeepSign string `yaml:"keep_sign" enum:"positive|negative"`
	// Rate bounds how fast the pressure changes.
	Rate *LimitRate `yaml:"rate"`

	// Deadband is how far inside the bound the pressure must come before it counts as inside again, as "0.5 Pa"; for a rate
	// as "0.1 Pa/min". A little wider than the noise of the signal.
	Deadband string `yaml:"deadband"`
	// OnDelay is how long the bound must be crossed without a break before the alarm comes.
	OnDelay *Delay `yaml:"on_delay"`
	// OffDelay is how long the pressure must stay inside before the alarm goes.
	OffDelay *Delay `yaml:"off_delay"`
	// Decision says which verdicts alarm. simple-acceptance: the value beyond the bound. guarded-acceptance: also a value
	// that may be beyond it within its uncertainty. guarded-rejection: only a value beyond it by more than its uncertainty.
	Decision string `yaml:"decision" enum:"simple-acceptance|guarded-acceptance|guarded-rejection" needed:"true"`

	// Priority is by consequence and time to act.
	Priority string `yaml:"priority" enum:"low|medium|high|highest" needed:"true"`
	// Class groups alarms that are handled alike, by a name of your own.
	Class string `yaml:"class" name:"true"`
	// Group names alarms of which the first is marked, as those of one air handler.
	Group string `yaml:"group" name:"true"`
	// Response is what a person does when it comes.
	Response string `yaml:"response" needed:"true"`
	// Reference is the document the bound comes from.
	Reference *Reference `yaml:"reference"`

	// Door is a contact that says when a door is open, which suppresses the alarm for a time, by design.
	Door *Door `yaml:"door"`
	// SuppressWhile is a contact that says when the plant is in a state in which the alarm means nothing, as a fan that is off.
	SuppressWhile *SuppressWhile `yaml:"suppress_while"`

	// Latch keeps the alarm until it is reset, for what must be looked into even when it has gone.
	Latch bool `yaml:"latch"`
	// AcknowledgeOnReturn acknowledges by itself what has gone. Not with latch.
	AcknowledgeOnReturn bool `yaml:"acknowledge_on_return"`
	// ReAlarm makes an acknowledged alarm that stays call again after this time.
	ReAlarm Duration `yaml:"re_alarm" range:"[1m,168h]"`
	// ShelveAtMost is the longest time it may be shelved at once. Left out: it cannot be shelved.
	ShelveAtMost Duration `yaml:"shelve_at_most" range:"[1m,168h]"`
	// Fault says how the loss of the measurement is alarmed, which is an alarm of its own.
	Fault LimitFault `yaml:"fault"`
}

// LimitDifference names two instruments.
type LimitDifference struct {
	// Of is the instrument whose pressure counts.
	Of string `yaml:"of" needed:"true"`
	// Less is the instrument whose pressure is taken from it, the reference.
	Less string `yaml:"less" needed:"true"`
	// Within is how far apart in time two readings may be to make a pair.
	Within Duration `yaml:"within" range:"[10ms,1h]" needed:"true"`
}

// LimitRate bounds how fast a pressure changes.
type LimitRate struct {
	// Over is the time the straight line goes through.
	Over Duration `yaml:"over" range:"[1s,24h]" needed:"true"`
	// High is the upper bound with its unit, as "5 Pa/min".
	High string `yaml:"high"`
	// Low is the lower bound with its unit, as "-5 Pa/min".
	Low string `yaml:"low"`
}

// Delay is a time an alarm waits, with the reason why it may.
type Delay struct {
	// Time it waits.
	Time Duration `yaml:"time" range:"[0s,24h]" needed:"true"`
	// Rationale is why this time is right: which doors, how long they stand open, who assessed it. A delay tuned to silence
	// doors hides real failures.
	Rationale string `yaml:"rationale" needed:"true"`
}

// Door is a contact on a door. While it is open the alarm is suppressed by design, and the record goes on.
type Door struct {
	// From is the station or instrument whose frames carry contact. It is to say it at least once a minute.
	From string `yaml:"from" needed:"true"`
	// OpenIs is what contact says when the door is open.
	OpenIs int `yaml:"open_is" legal:"0,1" needed:"true"`
	// ExtendAtMost is the longest time the alarm is suppressed from the opening on, also if the door stays open. It must then
	// have been closed for as long before it suppresses again.
	ExtendAtMost Duration `yaml:"extend_at_most" range:"[1s,1h]" needed:"true"`
	// HeldOpenAfter is after what time an open door is an alarm of its own.
	HeldOpenAfter Duration `yaml:"held_open_after" range:"[1s,24h]" needed:"true"`
	// Rationale is why these times are right.
	Rationale string `yaml:"rationale" needed:"true"`
	// Response is what a person does about a door that is held open.
	Response string `yaml:"response" needed:"true"`
}

// SuppressWhile is a state of the plant in which an alarm means nothing.
type SuppressWhile struct {
	// From is the station or instrument whose frames carry contact. It is to say it at least once a minute.
	From string `yaml:"from" needed:"true"`
	// Is is what contact says in that state.
	Is int `yaml:"is" legal:"0,1" needed:"true"`
	// Rationale is why the alarm means nothing then.
	Rationale string `yaml:"rationale" needed:"true"`
}

// Reference is the document a bound comes from.
type Reference struct {
	// Document names it.
	Document string `yaml:"document" needed:"true"`
	// Version is its edition, revision or date.
	Version string `yaml:"version" needed:"true"`
}

// LimitFault says how the loss of a measurement is alarmed.
type LimitFault struct {
	// OnDelay is how long the measurement must be missing.
	OnDelay Duration `yaml:"on_delay" range:"[0s,24h]"`
	// Priority of that alarm. Left out: that of the limit.
	Priority string `yaml:"priority" enum:"low|medium|high|highest"`
	// Response is what a person does when the measurement is lost.
	Response string `yaml:"response"`
}

func (l *Limit) setDefaults() {
	l.Class = "pressure"
	l.Fault.OnDelay = Duration(10 * time.Second)
	l.Fault.Response = "look at the instrument and its line; the limit is not watched meanwhile"
}
