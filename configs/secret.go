package configs

import (
	"fmt"
	"io"
	"log/slog"
)

// Secret is a password or a token. However it is printed, logged or encoded it shows as ***; Reveal gives the text.
//
// The text is behind a pointer, so that even a print of a private field that holds a Secret shows an address only.
type Secret struct{ text *string }

const hidden = "***"

// NewSecret wraps a text that must not be shown.
func NewSecret(text string) Secret { return Secret{text: &text} }

// Reveal gives the text, for the one call that needs it.
func (s Secret) Reveal() string {
	if s.text == nil {
		return ""
	}
	return *s.text
}

// IsSet tells whether there is one.
func (s Secret) IsSet() bool { return s.Reveal() != "" }

// String hides the text; so do the methods below, for each way a value reaches a page or a log.
func (s Secret) String() string { return hidden }

// Format hides the text from every verb of fmt.
func (s Secret) Format(f fmt.State, _ rune) { _, _ = io.WriteString(f, hidden) } // fmt offers no place for its error

// LogValue hides the text from slog.
func (s Secret) LogValue() slog.Value { return slog.StringValue(hidden) }

// MarshalText hides the text from encoders.
func (s Secret) MarshalText() ([]byte, error) { return []byte(hidden), nil }

// MarshalJSON hides the text from encoding/json.
func (s Secret) MarshalJSON() ([]byte, error) { return []byte(`"` + hidden + `"`), nil }

// MarshalYAML hides the text from yaml.
func (s Secret) MarshalYAML() (any, error) { return hidden, nil }
