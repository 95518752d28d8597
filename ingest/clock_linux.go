package ingest

import (
	"time"

	"golang.org/x/sys/unix"
)

// sleepLead reads both clocks of clock_gettime(2): CLOCK_BOOTTIME is CLOCK_MONOTONIC, which Go's time runs on, "except that
// it also includes any time that the system is suspended". The one that runs on is read first, so that being held up in
// between makes the lead short and never long.
func sleepLead() (time.Duration, bool) {
	var boot, mono unix.Timespec
	if unix.ClockGettime(unix.CLOCK_BOOTTIME, &boot) != nil || unix.ClockGettime(unix.CLOCK_MONOTONIC, &mono) != nil {
		return 0, false
	}
	return time.Duration(boot.Nano() - mono.Nano()), true
}
