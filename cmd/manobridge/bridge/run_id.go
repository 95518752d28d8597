package bridge

import (
	"crypto/rand"
	"encoding/hex"
	"time"
)

// NewRun names a start of the bridge: the wall time for people, four random bytes so that no two starts ever share a
// name, even with a wrong clock.
func NewRun(now time.Time) string {
	var b [4]byte
	_, _ = rand.Read(b[:]) // never fails since Go 1.24
	return now.UTC().Format("20060102t150405") + hex.EncodeToString(b[:])
}
