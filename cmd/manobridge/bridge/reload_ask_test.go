package bridge_test

import (
	"math"
	"path/filepath"
	"testing"
	"time"

	"manobridge/configs"
	"manobridge/ingest/ingesttest"
)

// A reload changes what the port asks for, then what one instrument is asked for and how often: what is asked next is the new
// question, and numbers go on. The unit is a slave by other authors.
func TestReloadChangesWhatIsAsked(t *testing.T) {
	line := ingesttest.NewModbusLine(t, filepath.Join("..", "..", "..", "ingest", "testdata", "modbus_slave.py"),
		"2,ir,100,float32,CDAB,150.5", "2,ir,102,int16,,215", "2,ir,104,float32,CDAB,110.25", "2,ir,106,float32,CDAB,90.75")
	path := journalPath(t)
	load := func(change func(*configs.Config)) *configs.Config {
		c := askConfig(t, line.Path, path)
		c.Instruments = c.Instruments[:1] // bank-2
		c.Ports[0].Ask.Every = configs.Duration(time.Second)
		change(c)
		return c
	}
	x := start(t, load(func(*configs.Config) {}))
	answers := func() uint64 { return x.b.Sources()[0].Stats().Instruments["bank-2"].Seq }
	more := func(n uint64) {
		t.Helper()
		before := answers()
		eventually(t, "more answers of bank-2", func() bool { return answers() >= before+n })
	}
	more(2)
	at := func(n int) func(c *configs.Config) {
		return func(c *configs.Config) { c.Ports[0].Ask.Registers.LowMM.At = n }
	}
	if err := x.b.Reload(t.Context(), load(at(104))); err != nil {
		t.Fatal(err)
	}
	more(2)
	own := func(c *configs.Config) {
		at(104)(c)
		registers := c.Ports[0].Ask.Registers
		low := *registers.LowMM
		low.At = 106
		registers.LowMM = &low
		c.Instruments[0].Ask = &configs.OwnAsk{Every: configs.Duration(50 * time.Millisecond), Registers: &registers}
	}
	if err := x.b.Reload(t.Context(), load(own)); err != nil {
		t.Fatal(err)
	}
	began, first := time.Now(), answers()
	more(10)
	if each := time.Since(began) / time.Duration(answers()-first); each > 700*time.Millisecond {
		t.Errorf("got an answer each %v, want about one in 50 ms and not in a second", each)
	}
	x.end()

	list := rows(t, path)
	numbers, _ := seqs(list, "bank-2")
	for i, n := range numbers {
		if n != uint64(i)+1 {
			t.Fatalf("got seqs %v, want each once and none left out", numbers)
		}
	}
	stage, wants := 0, []float64{150.5, 110.25, 90.75}
	for i := range list {
		if !list[i].Low.Set {
			continue
		}
		mm := list[i].Low.V.Millimetres()
		for stage < len(wants)-1 && math.Abs(mm-wants[stage]) > 1e-9 {
			stage++
		}
		if math.Abs(mm-wants[stage]) > 1e-9 {
			t.Errorf("seq %d: got %v mm, want %v, or what is asked next", list[i].Seq, mm, wants[stage])
		}
	}
	if stage != len(wants)-1 {
		t.Errorf("got no reading of %v mm, want the new question asked after the reload", wants[stage+1:])
	}
}
