//go:build !linux

package ingest

import "time"

// sleepLead is not known.
func sleepLead() (time.Duration, bool) { return 0, false }
