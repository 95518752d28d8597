package window

import (
	"math"
	"slices"
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/convert/quantity"
)

func pressureAt(at time.Duration, hPa float64) *convert.Reading {
	return &convert.Reading{SinceStart: at, AmbientPressure: convert.Some(quantity.AbsolutePressure(hPa * 100))}
}

// A value is used up to its greatest age, that age included, before and after the reading; of two the later one that is
// not after it.
func TestAgeOfAChannel(t *testing.T) {
	const max = 5 * time.Minute
	for _, c := range []struct {
		name  string
		noted []time.Duration // of values 1001, 1002, … hPa
		at    time.Duration
		want  float64 // hPa; 0: too old
	}{
		{"never", nil, s, 0},
		{"at once", []time.Duration{10 * s}, 10 * s, 1001},
		{"at the edge", []time.Duration{10 * s}, 10*s + max, 1001},
		{"past the edge", []time.Duration{10 * s}, 10*s + max + 1, 0},
		{"the later of two", []time.Duration{10 * s, 20 * s}, 25 * s, 1002},
		{"not the one after it", []time.Duration{10 * s, 20 * s}, 15 * s, 1001},
		{"at the later", []time.Duration{10 * s, 20 * s}, 20 * s, 1002},
		{"only one, and that after", []time.Duration{20 * s}, 15 * s, 1001},
		{"both after, the nearer", []time.Duration{20 * s, 30 * s}, 15 * s, 1001},
		{"after, at the edge", []time.Duration{15*s + max}, 15 * s, 1001},
		{"after, past the edge", []time.Duration{15*s + max + 1}, 15 * s, 0},
		{"out of order is no news", []time.Duration{20 * s, 10 * s}, 25 * s, 1001},
	} {
		var l Latest
		for i, at := range c.noted {
			l.Note(pressureAt(at, 1001+float64(i)))
		}
		rules := Rules{AmbientPressure: {From: "room", MaxAge: max}}
		r := convert.Reading{SinceStart: c.at, AmbientPressure: convert.Some(quantity.AbsolutePressure(1))}
		old := rules.Join(&r, func(name string) *Latest { return &l })
		switch {
		case c.want == 0 && (r.AmbientPressure.Set || len(old) != 1 || old[0].Code != convert.ChannelOld):
			t.Errorf("%s: got %v with %v, want none, and channel-old", c.name, r.AmbientPressure, old)
		case c.want != 0 && (math.Abs(float64(r.AmbientPressure.V)-c.want*100) > 1e-9 || len(old) != 0):
			t.Errorf("%s: got %v with %v, want %v hPa", c.name, r.AmbientPressure, old, c.want)
		}
	}
}

// Each channel goes its own way: the reading's own, another's, the configured one; what may not stand in is bad.
func TestEachChannelHasItsRule(t *testing.T) {
	var room Latest
	room.Note(&convert.Reading{AmbientTemperature: convert.Some(quantity.Celsius(23)), AmbientHumidity: convert.Some(quantity.Ratio(0.4)), Temperature: convert.Some(quantity.Celsius(22))})
	room.Note(&convert.Reading{Refusal: &convert.Refusal{Code: convert.Silence}, AmbientHumidity: convert.Some(quantity.Ratio(0.9))})
	rules := Rules{
		LiquidTemperature:  {From: "room", MaxAge: time.Minute},
		AmbientTemperature: {From: "room", MaxAge: time.Minute},
		AmbientHumidity:    {From: "room", MaxAge: time.Minute},
		AmbientPressure:    {From: "gone", MaxAge: time.Minute, BadWhenOld: true},
		Tilt:               {Configured: true},
	}
	r := convert.Reading{SinceStart: 10 * s, Tilt: convert.Some(quantity.Degrees(1))}
	old := rules.Join(&r, func(name string) *Latest {
		if name == "room" {
			return &room
		}
		return nil
	})
	if math.Abs(r.Temperature.V.Celsius()-22) > 1e-9 || math.Abs(r.AmbientTemperature.V.Celsius()-23) > 1e-9 || r.AmbientHumidity.V != 0.4 || r.Tilt.Set || r.AmbientPressure.Set {
		t.Errorf("got %+v, want 22 °C, 23 °C, 40 %% and no more", r)
	}
	if len(old) != 1 || old[0].Code != convert.ChannelMissing {
		t.Fatalf("got %v, want channel-missing", old)
	}
	res := tenPerMM(r)
	res.Mark(old[0])
	if _, ok := res.Pressure(); ok || res.Status != convert.Bad {
		t.Errorf("got %+v, want bad and no pressure", res)
	}

	// The liquid's temperature has a rule of its own in the converter, so its absence is no cause here.
	late := convert.Reading{SinceStart: time.Hour, Temperature: convert.Some(quantity.Celsius(50))}
	old = (&Rules{LiquidTemperature: {From: "room", MaxAge: time.Minute}}).Join(&late, func(string) *Latest { return &room })
	if late.Temperature.Set || len(old) != 0 {
		t.Errorf("got %v and %v, want no temperature and no cause", late.Temperature, old)
	}
	own := convert.Reading{Temperature: convert.Some(quantity.Celsius(50))}
	if old := new(Rules).Join(&own, nil); len(old) != 0 || !own.Temperature.Set {
		t.Errorf("got %v and %v, want the reading's own left", own.Temperature, old)
	}
}

func TestJoinAllocatesNothingWhileYoung(t *testing.T) {
	var room Latest
	room.Note(pressureAt(0, 1000))
	rules := Rules{AmbientPressure: {From: "room", MaxAge: time.Minute}}
	source := func(string) *Latest { return &room }
	r := convert.Reading{SinceStart: s}
	if n := testing.AllocsPerRun(100, func() { rules.Join(&r, source) }); n != 0 {
		t.Errorf("got %v allocations for a reading, want none", n)
	}
	if names := []Channel{LiquidTemperature, AmbientTemperature, AmbientPressure, AmbientHumidity, Tilt}; slices.ContainsFunc(names, func(c Channel) bool { return c.String() == "" }) {
		t.Errorf("got a channel without a name")
	}
}
