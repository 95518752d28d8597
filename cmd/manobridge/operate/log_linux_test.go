package operate

import (
	"bytes"
	"encoding/json"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// In the journal of systemd each line begins with its priority as sd-daemon(3) has it, and has no time of its own; elsewhere
// lines are plain.
func TestLogForTheJournal(t *testing.T) {
	f, err := os.Create(filepath.Join(t.TempDir(), "stream"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	device, inode, ok := fileID(f)
	if !ok {
		t.Fatal("got no device and inode of a file, want them")
	}
	write := func(stream string) string {
		t.Helper()
		t.Setenv("JOURNAL_STREAM", stream)
		if err := f.Truncate(0); err != nil {
			t.Fatal(err)
		}
		if _, err := f.Seek(0, 0); err != nil {
			t.Fatal(err)
		}
		l := NewLogger(f, TextLog, slog.LevelDebug).With("run", "r1").WithGroup("g")
		l.Error("e", "k", 1)
		l.Warn("w")
		l.Info("i")
		l.Debug("d")
		text, err := os.ReadFile(f.Name())
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	want := "<3>level=ERROR msg=e run=r1 g.k=1\n<4>level=WARN msg=w run=r1\n<6>level=INFO msg=i run=r1\n<7>level=DEBUG msg=d run=r1\n"
	if got := write(fmt.Sprintf("%d:%d", device, inode)); got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	for _, other := range []string{"", "1:2"} {
		if got := write(other); !strings.HasPrefix(got, "time=") || strings.Contains(got, "<3>") {
			t.Errorf("JOURNAL_STREAM=%q: got %q, want plain lines with their time", other, got)
		}
	}
	var b bytes.Buffer
	NewLogger(&b, JSONLog, slog.LevelInfo).Info("i", "code", "c")
	var line map[string]any
	if err := json.Unmarshal(b.Bytes(), &line); err != nil || line["code"] != "c" {
		t.Errorf("got %q (%v), want an object with its code", b.String(), err)
	}
}
