package publishtest

import (
	"os"
	"runtime"
	"testing"
	"time"
)

// Watch holds that the test ends with no more goroutines and no more open files than it began with. Call it first, so that
// it looks after everything else is cleaned up.
func Watch(t testing.TB) {
	t.Helper()
	_ = FreeAddr(t) // the first connection of a process opens the two files of Go's poller, which stay
	goroutines, files := runtime.NumGoroutine(), openFiles()
	t.Cleanup(func() {
		t.Helper()
		const patience = 5 * time.Second // what was told to end may take a moment
		tick := time.NewTicker(10 * time.Millisecond)
		defer tick.Stop()
		for end := time.Now().Add(patience); runtime.NumGoroutine() > goroutines || openFiles() > files; <-tick.C {
			if time.Now().Before(end) {
				continue
			}
			stacks := make([]byte, 1<<20)
			t.Errorf("got %d goroutines and %d open files at the end, want at most %d and %d as at the start:\n%s",
				runtime.NumGoroutine(), openFiles(), goroutines, files, stacks[:runtime.Stack(stacks, true)])
			return
		}
	})
}

// openFiles counts the open files of this process; 0 where the system does not tell.
func openFiles() int {
	list, err := os.ReadDir("/proc/self/fd")
	if err != nil {
		return 0
	}
	return len(list)
}
