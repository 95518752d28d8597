//go:build !linux

package bridge

// kernelSynchronised knows nothing of this system.
func kernelSynchronised() (yes, known bool) { return false, false }
