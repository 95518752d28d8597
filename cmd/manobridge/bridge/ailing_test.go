package bridge_test

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"manobridge/ingest/ingesttest"
	"manobridge/publish/publishtest"
)

// A journal that was damaged while no bridge ran is set aside, and the retained alarm of the bridge says so to whoever comes
// late.
func TestBridgeAlarmTellsOfTheJournal(t *testing.T) {
	broker := publishtest.Mosquitto(t)
	line := ingesttest.NewLine(t)
	path := journalPath(t)
	publish := fmt.Sprintf("publish: {mqtt: {url: \"tcp://%s\"}}", broker.Addr)
	x := start(t, config(t, line.Path, path, publish))
	opened(t, x, line)
	line.Send("02,100.0,21.0\n03,110.0,21.0\n")
	eventually(t, "two readings", func() bool { return x.b.Counts().Good == 2 })
	well := publishtest.Subscribe(t, broker.Addr, []string{"manobridge/test-hall/bench-pc/alarm"}).WaitCount(t, 1)
	if text := string(well[0].Payload); !strings.Contains(text, `"state":"well"`) || !strings.Contains(text, `"ailments":[]`) {
		t.Errorf("got %s, want a bridge that is well", text)
	}
	x.end()

	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.WriteAt([]byte("this is no header"), 0); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	start(t, config(t, line.Path, path, publish))
	late := publishtest.Subscribe(t, broker.Addr, []string{"manobridge/test-hall/bench-pc/alarm"})
	late.Wait(t, "the word on the journal", func(m []publishtest.Message) bool {
		return len(m) > 0 && strings.Contains(string(m[len(m)-1].Payload), `"code":"journal-set-aside"`)
	})
}
