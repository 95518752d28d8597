package journal

import (
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"golang.org/x/sys/unix"
)

// HeldError says that another process has the journal open for writing.
type HeldError struct {
	Path   string // of the lock file
	Holder string // what the holder wrote there: bridge, process, since when
}

// Error names the holder.
func (e *HeldError) Error() string {
	who := e.Holder
	if who == "" {
		who = "another process"
	}
	return fmt.Sprintf("journal is in use by %s (lock file %s); only one bridge may write it; nothing was changed; "+
		"stop the other one, or give this bridge a journal of its own", who, e.Path)
}

// lock takes the lock file for as long as the returned file is open. The kernel frees it when the process ends,
// however it ends, so a lock file that lies about is no obstacle.
func lock(path, bridge string, now time.Time) (*os.File, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return nil, err
	}
	if err := unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB); err != nil {
		defer f.Close()
		if !errors.Is(err, unix.EWOULDBLOCK) {
			return nil, fmt.Errorf("lock %s: %w", path, err)
		}
		text, _ := io.ReadAll(io.LimitReader(f, 256))
		return nil, &HeldError{Path: path, Holder: strings.TrimSpace(string(text))}
	}
	text := fmt.Sprintf("bridge %q, process %d, since %s\n", bridge, os.Getpid(), now.UTC().Format(time.RFC3339))
	if err := errors.Join(f.Truncate(0), writeAt(f, text)); err != nil {
		f.Close()
		return nil, fmt.Errorf("lock %s: %w", path, err)
	}
	return f, nil
}

func writeAt(f *os.File, text string) error {
	_, err := f.WriteAt([]byte(text), 0)
	return err
}

// Owner tells whether a bridge has the journal at path open for writing, and what it says of itself. It changes nothing.
func Owner(path string) (holder string, held bool, err error) {
	f, err := os.Open(path + ".lock")
	if errors.Is(err, os.ErrNotExist) {
		return "", false, nil
	}
	if err != nil {
		return "", false, err
	}
	defer f.Close() // frees the lock, where this took it
	if err := unix.Flock(int(f.Fd()), unix.LOCK_SH|unix.LOCK_NB); err == nil {
		return "", false, nil
	} else if !errors.Is(err, unix.EWOULDBLOCK) {
		return "", false, fmt.Errorf("lock %s: %w", path+".lock", err)
	}
	text, err := io.ReadAll(io.LimitReader(f, 256))
	return strings.TrimSpace(string(text)), true, err
}
