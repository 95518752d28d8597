package bridge

import (
	"fmt"
	"os"
	"runtime/debug"
	"strings"

	"manobridge/publish/journal"
)

// began is the event that stands first in a run: which boot of the machine and which program it is of. Runs of one boot
// share its id, so their order can be told where the clock was wrong.
func (b *Bridge) began() journal.Event {
	return journal.Event{Run: b.run, Time: b.started, SinceStart: b.clock.SinceStart(), Code: "bridge-started",
		Note: fmt.Sprintf("boot id %s, program version %s", bootID(), version())}
}

// bootID is the id that Linux gives to each boot (random(4)).
func bootID() string {
	text, err := os.ReadFile("/proc/sys/kernel/random/boot_id")
	if err != nil {
		return "unknown"
	}
	return strings.TrimSpace(string(text))
}

// version is what the Go toolchain stamped into the program.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok || info.Main.Version == "" {
		return "unknown"
	}
	return info.Main.Version
}
