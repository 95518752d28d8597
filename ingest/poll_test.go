package ingest_test

import (
	"bytes"
	"log/slog"
	"slices"
	"strings"
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/convert/quantity"
	"manobridge/ingest"
	"manobridge/ingest/ingesttest"
	"manobridge/ingest/modbus"
	"manobridge/ingest/serialport"
)

const slave = "testdata/modbus_slave.py"

// asked gives options for a polled line with duct-2 at unit 2 and so on, every 50 ms.
func asked(t *testing.T, open ingest.Opener, log *slog.Logger, timeout time.Duration, units ...ingest.Asked) ingest.Options {
	t.Helper()
	o := ingesttest.Options(t, open, log)
	o.Instruments = map[string]string{}
	for i := range units {
		if units[i].Every == 0 {
			units[i].Every = 50 * time.Millisecond
		}
		o.Instruments[units[i].Address] = "duct-" + units[i].Address
	}
	p, err := ingest.NewPoll(ingest.PollOptions{
		Port: o.Port, Open: open, Instruments: units, Timeout: timeout, Character: 11 * time.Second / 19200, Clock: o.Clock, Log: o.Log,
	})
	if err != nil {
		t.Fatal(err)
	}
	o.Open, o.Decoder = p.Open, p.Decoder()
	return o
}

func modbusPort(path string, timeout time.Duration) ingest.Opener {
	return serialport.Settings{Device: path, Baud: 19200, DataBits: 8, Parity: "none", StopBits: 1, ReadTimeout: timeout}.Opener()
}

func float(at uint16, order string) modbus.Register {
	return modbus.Register{Function: modbus.ReadHolding, At: at, Type: "float32", Order: order, Scale: 1}
}

// Four units with the four byte orders of a value, a unit of integers, one without the registers and one that is not there,
// on one line. The slave and its encoding are pymodbus's.
func TestPollModbusSlave(t *testing.T) {
	line := ingesttest.NewModbusLine(t, slave,
		"2,hr,0,float32,ABCD,113.25", "2,hr,2,float32,ABCD,21.5",
		"3,hr,40,float32,CDAB,-7.75", "3,hr,100,float32,CDAB,19.25",
		"4,hr,0,float32,BADC,0.5", "5,hr,0,float32,DCBA,250.125",
		"6,ir,7,int16,,-1234", "6,ir,8,int32,CDAB,1234567", "6,ir,10,int16,,215",
		"7,hr,0,uint16,,1", "8,hr,0,float32,ABCD,nan", "9,hr,0,int16,,-32768")
	input := func(at uint16, typ, order string, scale, offset float64) modbus.Register {
		return modbus.Register{Function: modbus.ReadInput, At: at, Type: typ, Order: order, Scale: scale, Offset: offset}
	}
	units := []ingest.Asked{
		{Address: "2", Unit: 2, Registers: map[string]modbus.Register{"low_mm": float(0, "ABCD"), "temperature_c": float(2, "ABCD")}},
		{Address: "3", Unit: 3, Registers: map[string]modbus.Register{"low_mm": float(40, "CDAB"), "temperature_c": float(100, "CDAB")}},
		{Address: "4", Unit: 4, Registers: map[string]modbus.Register{"low_mm": float(0, "BADC")}},
		{Address: "5", Unit: 5, Registers: map[string]modbus.Register{"low_mm": float(0, "DCBA")}},
		{Address: "6", Unit: 6, Registers: map[string]modbus.Register{
			"low_mm": input(7, "int16", "", 0.0625, 100), "high_mm": input(8, "int32", "CDAB", 0.0009765625, 0), "temperature_c": input(10, "int16", "", 0.125, 0)}},
		{Address: "7", Unit: 7, Registers: map[string]modbus.Register{"low_mm": float(4000, "ABCD")}},
		{Address: "8", Unit: 8, Registers: map[string]modbus.Register{"low_mm": float(0, "ABCD")}},
		{Address: "9", Unit: 9, Registers: map[string]modbus.Register{"low_mm": {Function: modbus.ReadHolding, Type: "int16", Scale: 0.01, NoValue: []string{"8000"}}}},
		{Address: "30", Unit: 30, Registers: map[string]modbus.Register{"low_mm": float(0, "ABCD")}},
	}
	for i := range units {
		units[i].Every = 300 * time.Millisecond
	}
	o := asked(t, modbusPort(line.Path, 200*time.Millisecond), nil, 200*time.Millisecond, units...)
	o.Silence = 5 * time.Second
	r := ingesttest.Run(t, o)
	has := func(instrument string, good bool) func() bool {
		return func() bool {
			return slices.ContainsFunc(r.Readings(instrument), func(rd convert.Reading) bool { return (rd.Refusal == nil) == good })
		}
	}
	for _, name := range []string{"duct-2", "duct-3", "duct-4", "duct-5", "duct-6"} {
		ingesttest.Eventually(t, "a good reading of "+name, has(name, true))
	}
	for _, name := range []string{"duct-7", "duct-8", "duct-9", "duct-30"} {
		ingesttest.Eventually(t, "a refusal of "+name, has(name, false))
	}
	r.Stop()
	for name, want := range map[string]convert.Reading{
		"duct-2": {Low: millimetres(113.25), Temperature: celsius(21.5)},
		"duct-3": {Low: millimetres(-7.75), Temperature: celsius(19.25)},
		"duct-4": {Low: millimetres(0.5)},
		"duct-5": {Low: millimetres(250.125)},
		"duct-6": {Low: millimetres(-1234*0.0625 + 100), High: millimetres(1234567 * 0.0009765625), Temperature: celsius(215 * 0.125)},
	} {
		for _, rd := range r.Readings(name) {
			// Before the slave listens it may answer to nothing, never wrongly.
			if rd.Refusal == nil && (rd.Low != want.Low || rd.High != want.High || rd.Temperature != want.Temperature) {
				t.Errorf("%s: got low %v, high %v, temperature %v, want %v, %v, %v (as set in the slave)",
					name, rd.Low, rd.High, rd.Temperature, want.Low, want.High, want.Temperature)
			}
		}
	}
	for name, want := range map[string]convert.Cause{
		"duct-7": convert.FrameErrorWord, "duct-8": convert.FrameErrorWord, "duct-9": convert.FrameErrorWord, "duct-30": convert.Silence,
	} {
		for _, rd := range r.Readings(name) {
			if rd.Refusal == nil {
				t.Errorf("%s: got the value %v, want none ever", name, rd.Low)
			}
		}
		if !slices.ContainsFunc(r.Readings(name), func(rd convert.Reading) bool { return rd.Refusal != nil && rd.Refusal.Code == want }) {
			t.Errorf("%s: got %v, want %s", name, r.Frames(name), want)
		}
	}
}

func millimetres(v float64) convert.Optional[quantity.Length] {
	return convert.Some(quantity.Millimetres(v))
}

func celsius(v float64) convert.Optional[quantity.Temperature] {
	return convert.Some(quantity.Celsius(v))
}

// The adapter goes and comes back under the same name: asking goes on as before.
func TestPollReplug(t *testing.T) {
	line := ingesttest.NewLine(t)
	o := asked(t, modbusPort(line.Path, 2*time.Second), nil, 2*time.Second,
		ingest.Asked{Address: "2", Unit: 2, Registers: map[string]modbus.Register{"low_mm": float(0, "ABCD")}})
	r := ingesttest.Run(t, o)
	question := string(modbus.Question{Unit: 2, Function: modbus.ReadHolding, Count: 2}.Append(nil))
	answer := "\x02\x03\x04\x41\x48\x00\x00" // 12.5
	answer += crcOf(answer)
	for round := range 2 {
		if got := line.Received(len(question)); got != question {
			t.Fatalf("got question % X, want % X", got, question)
		}
		line.SendBytewise(answer)
		ingesttest.Eventually(t, "a reading", func() bool { return len(r.Frames("duct-2")) > round })
		if round == 0 {
			line.Unplug()
			ingesttest.Eventually(t, "the loss", func() bool { return r.Source.Stats().Losses == 1 })
			line.Plug()
		}
	}
	if got := r.Readings("duct-2")[0]; got.Low != millimetres(12.5) || string(got.Frame) != answer {
		t.Errorf("got %v of % X, want 12.5 mm (IEEE 754: 41480000)", got.Low, got.Frame)
	}
}

// crcOf computes the check value bit by bit, by the flow chart of Modbus over Serial Line V1.02, 6.2.2.
func crcOf(telegram string) string {
	r := 0xFFFF
	for _, b := range []byte(telegram) {
		r ^= int(b)
		for range 8 {
			if r&1 == 1 {
				r = r>>1 ^ 0xA001
			} else {
				r >>= 1
			}
		}
	}
	return string([]byte{byte(r), byte(r >> 8)})
}

// What does not fit the question is refused with its cause, and the next round is good.
func TestPollRefuses(t *testing.T) {
	good := "\x02\x03\x04\x41\x48\x00\x00"
	good += crcOf(good)
	seal := func(s string) string { return s + crcOf(s) }
	for _, c := range []struct {
		name, answer string
		want         convert.Cause
	}{
		{"bit flipped", "\x02\x03\x04\x41\x49\x00\x00" + good[7:], convert.FrameChecksum},
		{"another unit", seal("\x03\x03\x04\x41\x48\x00\x00"), convert.FrameFormat},
		{"another function", seal("\x02\x04\x04\x41\x48\x00\x00"), convert.FrameFormat},
		{"another count", seal("\x02\x03\x02\x41\x48"), convert.FrameFormat},
		{"cut short", good[:6], convert.FrameFormat},
		{"exception", seal("\x02\x83\x04"), convert.FrameErrorWord},
		{"infinity", seal("\x02\x03\x04\x7f\x80\x00\x00"), convert.FrameErrorWord},
		{"echo of the question", "\x02\x03\x00\x00\x00\x02\xc4\x38", convert.FrameFormat},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			line := ingesttest.NewLine(t)
			r := ingesttest.Run(t, asked(t, modbusPort(line.Path, time.Second), nil, time.Second,
				ingest.Asked{Address: "2", Unit: 2, Registers: map[string]modbus.Register{"low_mm": float(0, "ABCD")}}))
			line.Received(8)
			line.Send(c.answer)
			line.Received(8)
			line.Send(good)
			if c.name == "cut short" {
				line.Received(8) // the one before may have been the rest of the answer given up, and was thrown away
				line.Send(good)
			}
			ingesttest.Eventually(t, "the good reading", func() bool { return len(r.Readings("duct-2")) >= 2 })
			list := r.Readings("duct-2")
			if len(list) != 2 || list[0].Refusal == nil || list[0].Refusal.Code != c.want || list[1].Low != millimetres(12.5) {
				t.Errorf("got %+v, want %s and then 12.5 mm", list, c.want)
			}
		})
	}
}

// An answer that comes after its time is not taken for the answer to the next question, not even when it comes just
// after that one was sent.
func TestPollLateAnswer(t *testing.T) {
	line := ingesttest.NewLine(t)
	r := ingesttest.Run(t, asked(t, modbusPort(line.Path, time.Second), nil, time.Second,
		ingest.Asked{Address: "2", Unit: 2, Registers: map[string]modbus.Register{"low_mm": float(0, "ABCD")}}))
	answer := func(s string) string { return s + crcOf(s) }
	then, now := answer("\x02\x03\x04\x42\xc8\x00\x00"), answer("\x02\x03\x04\x41\x48\x00\x00") // 100 and 12.5
	line.Received(8)                                                                            // given up
	line.Received(8)
	line.Send(then + now)
	line.Received(8)
	line.Send(now)
	ingesttest.Eventually(t, "a reading", func() bool { return len(r.Readings("duct-2")) > 0 })
	if got := r.Readings("duct-2"); len(got) != 1 || got[0].Low != millimetres(12.5) {
		t.Errorf("got %+v, want 12.5 mm alone, of the question under way", got)
	}
}

// A port is closed while an answer is on its way, as where other registers are to be asked for from now on, and opened again:
// nobody is asked before the time for that answer is over, and it is not taken for the answer to the first question.
func TestPollAnswerFromBeforeOpening(t *testing.T) {
	line := ingesttest.NewLine(t)
	run := func(at uint16) *ingesttest.Running {
		return ingesttest.Run(t, asked(t, modbusPort(line.Path, time.Second), nil, time.Second,
			ingest.Asked{Address: "2", Unit: 2, Registers: map[string]modbus.Register{"low_mm": float(at, "ABCD")}}))
	}
	answer := func(s string) string { return s + crcOf(s) }
	r := run(0)
	line.Received(8)
	r.Stop()
	line.Send(answer("\x02\x03\x04\x42\xc8\x00\x00")) // 100, of register 0
	began := time.Now()
	r = run(4)
	line.Received(8)
	if waited := time.Since(began); waited < time.Second {
		t.Errorf("got a question %v after the port was opened, want the timeout of 1 s to pass first", waited)
	}
	line.Send(answer("\x02\x03\x04\x41\x48\x00\x00")) // 12.5, of register 4
	ingesttest.Eventually(t, "a reading", func() bool { return len(r.Readings("duct-2")) > 0 })
	if got := r.Readings("duct-2"); got[0].Low != millimetres(12.5) {
		t.Errorf("got %v, %v, want 12.5 mm, of the question under way", got[0].Low, got[0].Refusal)
	}
}

// A line asked for more than it carries is told of once, not at every round.
func TestPollCannotKeepUp(t *testing.T) {
	line := ingesttest.NewLine(t)
	var log bytes.Buffer
	registers := map[string]modbus.Register{"low_mm": float(0, "ABCD")}
	r := ingesttest.Run(t, asked(t, modbusPort(line.Path, 200*time.Millisecond), slog.New(slog.NewTextHandler(&log, nil)), 200*time.Millisecond,
		ingest.Asked{Unit: 2, Address: "2", Registers: registers, Every: 20 * time.Millisecond},
		ingest.Asked{Unit: 3, Address: "3", Registers: registers, Every: 20 * time.Millisecond}))
	for range 4 {
		line.Received(8) // nobody answers: each unit holds up the other for ten times its interval
	}
	r.Stop()
	if n := strings.Count(log.String(), "code=line-behind"); n != 1 {
		t.Errorf("got it said %d times, want once:\n%s", n, log.String())
	}
	// The other waits for a timeout of 200 ms first.
	if e := r.Events(ingest.PortBehind); len(e) != 1 || e[0].Wanted != 20*time.Millisecond || e[0].Achieved < 200*time.Millisecond || e[0].Refusal == nil {
		t.Errorf("got events %+v, want one with 20ms wanted and what was achieved", e)
	}
}

func TestPollRefusesOptions(t *testing.T) {
	o := ingesttest.Options(t, ingesttest.NewPort().Open, nil)
	for name, in := range map[string]ingest.Asked{
		"every": {Unit: 1, Registers: map[string]modbus.Register{"low_mm": float(0, "ABCD")}}, "unit": {Every: time.Second, Registers: map[string]modbus.Register{"low_mm": float(0, "ABCD")}},
		"field": {Unit: 1, Every: time.Second, Registers: map[string]modbus.Register{"address": float(0, "ABCD")}}, "registers": {Unit: 1, Every: time.Second},
		"register": {Unit: 1, Every: time.Second, Registers: map[string]modbus.Register{"low_mm": float(0, "")}},
	} {
		if _, err := ingest.NewPoll(ingest.PollOptions{Open: o.Open, Clock: o.Clock, Log: o.Log, Timeout: time.Second, Character: time.Millisecond, Instruments: []ingest.Asked{in}}); err == nil {
			t.Errorf("%s: got %+v taken, want it refused", name, in)
		}
	}
}
