package mqtt

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

// topics gives the topics of one site.
type topics struct{ root string }

func (t topics) of(name, leaf string) string { return t.root + "/" + name + "/" + leaf }

// checkLevel tells whether a name can stand between two slashes of a topic. A wildcard or NUL in a topic makes a broker
// cut the connection, again for every try.
// Source: MQTT 3.1.1, 1.5.3 (text), 4.7.1 (wildcards), 4.7.2 (a leading $ is the broker's own).
func checkLevel(what, name string) error {
	switch {
	case name == "":
		return fmt.Errorf("%s has no name", what)
	case !utf8.ValidString(name):
		return fmt.Errorf("%s %q is not UTF-8", what, shorten(name))
	case strings.ContainsAny(name, "/+#"):
		return fmt.Errorf("%s %q holds one of / + #, which have a meaning in topics", what, shorten(name))
	case strings.ContainsFunc(name, func(r rune) bool { return r < 0x20 || r >= 0x7f && r < 0xa0 }):
		return fmt.Errorf("%s %q holds a control character", what, shorten(name))
	case name[0] == '$':
		return fmt.Errorf("%s %q begins with $, which is for the broker's own topics", what, shorten(name))
	}
	return nil
}

// longestTopic is the most bytes a topic may have. Source: MQTT 3.1.1, 4.7.3.
const longestTopic = 65535

// checkMessage tells whether a broker can take the message, its name being checked already.
func checkMessage(topic string, payload []byte) error {
	switch {
	case len(topic) > longestTopic:
		return fmt.Errorf("topic of %d bytes; allowed: %d", len(topic), longestTopic)
	case len(payload) == 0:
		return fmt.Errorf("message to %s has nothing in it", shorten(topic))
	case len(payload) > largestMessage:
		return fmt.Errorf("message to %s has %d bytes; allowed: %d", shorten(topic), len(payload), largestMessage)
	}
	return nil
}

// shorten keeps foreign text in messages to 64 bytes.
func shorten(s string) string {
	if len(s) > 64 {
		return s[:64] + "…"
	}
	return s
}
