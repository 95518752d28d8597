package serialport

import (
	"maps"
	"testing"
	"unsafe"
)

// The kernel writes twenty ints of four bytes (struct serial_icounter_struct in include/uapi/linux/serial.h: cts, dsr, rng,
// dcd, rx, tx, frame, overrun, parity, brk, buf_overrun, nine reserved).
func TestCountersAreLaidOutAsTheKernelHasThem(t *testing.T) {
	if got, want := unsafe.Sizeof(counters{}), uintptr(80); got != want {
		t.Fatalf("got %d bytes, want %d", got, want)
	}
	words := [20]int32{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, -1, 12}
	got := (*counters)(unsafe.Pointer(&words)).named()
	want := map[string]uint32{"framing": 7, "overrun": 8, "parity": 9, "break": 10, "buffer-overrun": 1<<32 - 1}
	if !maps.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}
