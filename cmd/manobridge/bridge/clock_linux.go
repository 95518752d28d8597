package bridge

import "golang.org/x/sys/unix"

// kernelSynchronised asks the kernel whether its clock is synchronised, as adjtimex(2) has it. Nothing is set. Where it
// may not be asked, as in some containers, nothing is known.
func kernelSynchronised() (yes, known bool) {
	var t unix.Timex // Modes 0: read only
	state, err := unix.Adjtimex(&t)
	if err != nil {
		return false, false
	}
	return state != unix.TIME_ERROR && t.Status&unix.STA_UNSYNC == 0, true
}
