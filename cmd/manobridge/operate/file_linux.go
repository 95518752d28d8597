package operate

import (
	"os"
	"syscall"
)

// fileID is the device and inode of an open file.
func fileID(f *os.File) (device, inode uint64, ok bool) {
	info, err := f.Stat()
	if err != nil {
		return 0, 0, false
	}
	s, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return 0, 0, false
	}
	return uint64(s.Dev), s.Ino, true // narrower on some machines
}
