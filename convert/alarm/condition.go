package alarm

import (
	"fmt"
	"strings"
)

// Condition is whether what an alarm is for is there.
type Condition uint8

// The three. Unknown is a measurement that cannot be believed: it holds everything.
const (
	Unknown Condition = iota
	Absent
	Present
)

var conditionWords = [...]string{"unknown", "absent", "present"}

// String gives the word.
func (c Condition) String() string { return conditionWords[c] }

// MarshalText writes the word, so that a kept state can be read by a person.
func (c Condition) MarshalText() ([]byte, error) { return []byte(c.String()), nil }

// UnmarshalText reads the word.
func (c *Condition) UnmarshalText(text []byte) error {
	for i, w := range conditionWords {
		if string(text) == w {
			*c = Condition(i)
			return nil
		}
	}
	return fmt.Errorf("condition %.20q; known: %s", text, strings.Join(conditionWords[:], ", "))
}
