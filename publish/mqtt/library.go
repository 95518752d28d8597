package mqtt

import (
	"fmt"
	"log/slog"
	"strings"
	"sync"

	paho "github.com/eclipse/paho.mqtt.golang"
)

// The client library logs through variables shared by all clients of the process, so the first sink's logger gets
// what the library says. At level debug: each loss is said by news, once and in other words.
var libraryOnce sync.Once

func logLibrary(log *slog.Logger) {
	libraryOnce.Do(func() {
		paho.ERROR, paho.CRITICAL = library{log}, library{log}
	})
}

// library is a paho.Logger.
type library struct{ log *slog.Logger }

// Println is that of paho.Logger.
func (l library) Println(v ...any) { l.say(strings.TrimSuffix(fmt.Sprintln(v...), "\n")) }

// Printf is that of paho.Logger.
func (l library) Printf(format string, v ...any) { l.say(fmt.Sprintf(format, v...)) }

func (l library) say(text string) { l.log.Debug(text, "code", "mqtt-library") }
