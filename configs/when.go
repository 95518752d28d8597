package configs

import "time"

// Duration is a time span written with its unit: 500ms, 10s, 2m, 1h30m.
type Duration time.Duration

// Std gives it as the standard library's type.
func (d Duration) Std() time.Duration { return time.Duration(d) }

// String writes it with its unit.
func (d Duration) String() string { return time.Duration(d).String() }

// MarshalText writes it with its unit.
func (d Duration) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// Date is a day of the calendar; the zero value means not stated.
type Date struct{ time.Time }

// String writes it as 2026-03-01, empty when not stated.
func (d Date) String() string {
	if d.IsZero() {
		return ""
	}
	return d.Format(time.DateOnly)
}

// MarshalText writes it as String does.
func (d Date) MarshalText() ([]byte, error) { return []byte(d.String()), nil }
