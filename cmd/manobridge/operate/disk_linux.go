package operate

import "golang.org/x/sys/unix"

// available is the room left for this user where a directory is, in bytes. Source: statfs(2), f_bavail.
func available(dir string) (uint64, error) {
	var s unix.Statfs_t
	if err := unix.Statfs(dir, &s); err != nil {
		return 0, err
	}
	return s.Bavail * uint64(s.Bsize), nil
}
