package publish_test

import (
	"math"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"pgregory.net/rapid"

	"manobridge/convert"
	"manobridge/publish"
	"manobridge/publish/publishtest"
)

// Samples are in the journal for whoever asks for them; a sink gets the averages alone, in either way of delivery, and its
// cursor comes to the end, also where the end is a sample.
func TestSamplesArePassedOver(t *testing.T) {
	for _, oneLane := range []bool{false, true} {
		synctest.Test(t, func(t *testing.T) {
			b := newBench(t)
			add := func(run string, n int) (want []int64) {
				for range n {
					b.seq++
					r := publishtest.Result(run, "suite-a", b.seq)
					r.SinceStart = time.Since(b.start)
					r.Sample = b.seq%4 != 0
					b.rows.Add(r)
					if !r.Sample {
						want = append(want, b.rows.Last())
					}
				}
				return want
			}
			late := add("r1", 403) // of an earlier run, and its end left open
			o, stop := b.run(func(o *publish.Options) { o.OneLane = oneLane; o.Batch = 10 })
			live := add(thisRun, 202)
			time.Sleep(10 * time.Second)
			synctest.Wait()
			if oneLane {
				same(t, "one lane", ids(slices.Concat(b.sink.Live(), b.sink.Late())), slices.Concat(late, live))
			} else {
				same(t, "live", ids(b.sink.Live()), live)
				same(t, "late", ids(b.sink.Late()), late)
			}
			if s := o.Stats(); s.Lag != 0 || s.Live+s.Late != int64(len(late)+len(live)) || s.Cursor.Live != b.rows.Last() {
				t.Errorf("got %+v, want nothing left and %d delivered", s, len(late)+len(live))
			}
			stop()
		})
	}
}

func TestAverageInThePayload(t *testing.T) {
	r := publishtest.Result("r1", "suite-a", 7)
	plain := publish.NewMessage("hall-3", &r)
	if line := string(plain.Append(nil)); strings.Contains(line, "samples") || strings.Contains(line, "window") {
		t.Errorf("got %s for one reading, want no word of an average", line)
	}
	r.Average = &convert.Average{Window: 10 * time.Second, Samples: 20, Good: 19, MinPa: 11.5, MeanPa: 12, MaxPa: 12.25, SDPa: 0.125}
	p := publish.NewMessage("hall-3", &r)
	line := p.Append(nil)
	const want = `,"window_s":10,"samples":20,"good_samples":19,"pressure_min_pa":11.5,"pressure_mean_pa":12,"pressure_max_pa":12.25,"pressure_sd_pa":0.125,"status":`
	if !strings.Contains(string(line), want) {
		t.Errorf("got %s, want it to hold %s", line, want)
	}
	r.Average = &convert.Average{Window: time.Second, Samples: 3, MinPa: math.NaN(), MeanPa: math.NaN(), MaxPa: math.NaN(), SDPa: math.NaN()}
	p = publish.NewMessage("hall-3", &r)
	if line := string(p.Append(nil)); !strings.Contains(line, `,"window_s":1,"samples":3,"good_samples":0,"status":`) {
		t.Errorf("got %s, want no pressures where none was good", line)
	}
	if got := publish.NewPayload(&r).Average.GoodFraction(); got != convert.Some(0.0) {
		t.Errorf("got good fraction %v, want 0", got)
	}
}

func TestAverageReadsBackTheSame(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r := publishtest.AnyResult().Draw(rt, "result")
		n := rapid.IntRange(0, 1<<20).Draw(rt, "samples")
		r.Average = &convert.Average{Window: time.Duration(rapid.Int64Range(0, 1e13).Draw(rt, "window")), Samples: n, Good: rapid.IntRange(0, n).Draw(rt, "good"),
			MinPa: rapid.Float64().Draw(rt, "min"), MeanPa: rapid.Float64().Draw(rt, "mean"), MaxPa: rapid.Float64().Draw(rt, "max"), SDPa: rapid.Float64().Draw(rt, "sd")}
		p := publish.NewMessage("hall-3", &r)
		back, err := publish.ParsePayload(p.Append(nil))
		if err != nil || !samePayload(back, p) {
			rt.Fatalf("got %+v (%v), want %+v", back, err, p)
		}
	})
	for _, bad := range []string{`"samples":3`, `"good_samples":3`, `"samples":3,"good_samples":4`, `"samples":3,"good_samples":-1`} {
		line := `{"instrument":"a","status":"good","status_code":0,"ne107":"","causes":[],` + bad + `}`
		if _, err := publish.ParsePayload([]byte(line)); err == nil {
			t.Errorf("%s: got no error, want one", line)
		}
	}
}
