package anew_test

import (
	"math"
	"strings"
	"testing"

	"manobridge/cmd/manobridge/anew"
	"manobridge/cmd/manobridge/assemble"
	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/quantity"
)

// The journal keeps the position that was worked out of a signal, not what that added to its uncertainty: computed again,
// the result has what the signal typically adds, and one that the signal refused stays refused for that.
func TestSignalsComputedAgain(t *testing.T) {
	c, err := configs.Parse("bench.yaml", []byte(strings.Replace(signalBench, "SIGNAL", "signal: {low: {unit: counts, points: [[0, 0], [1000, 300]], u_mm: 0.5}}", 1)),
		configs.Options{HostName: "bench"})
	if err != nil {
		t.Fatal(err)
	}
	in := &c.Instruments[0]
	conv, err := assemble.Converter(c, in)
	if err != nil {
		t.Fatal(err)
	}
	r := convert.Reading{Low: convert.Some(quantity.Millimetres(150)), Temperature: convert.Some(quantity.Celsius(20.4)), LowExtra: convert.Extra{U: quantity.Millimetres(0.5)}}
	typical := [2]convert.Extra{{}, r.LowExtra}
	first := conv.Convert(r)
	kept := first
	kept.LowExtra = convert.Extra{}
	if now := anew.Again(conv, in, typical, &kept); math.Abs(now.ExpandedU-first.ExpandedU) > 1e-12 || now.Differential != first.Differential {
		t.Errorf("got %v Pa ± %v Pa, want %v Pa ± %v Pa as at first", now.Differential, now.ExpandedU, first.Differential, first.ExpandedU)
	}
	for _, cause := range []convert.Cause{convert.SignalOffPoints, convert.LoopFault, convert.EchoTooNear, convert.FiducialsFew,
		convert.FiducialsDisagree, convert.ScoreLow, convert.EdgesNotOne, convert.ImageFrozen} {
		refused := conv.Convert(convert.Reading{Refusal: &convert.Refusal{Code: cause, Field: "low-limb signal", Seen: "1001 counts"}})
		now := anew.Again(conv, in, typical, &refused)
		if now.Refusal == nil || now.Refusal.Code != cause || len(now.Causes) != 1 {
			t.Errorf("got %v with causes %v, want %v alone", now.Refusal, now.Causes, cause)
		}
	}
}

const signalBench = `site: test-hall
bridge: bench-pc
location: {gravity_m_s2: 9.80715, gravity_u_m_s2: 0.00002}
ambient: {temperature_c: 21.0, pressure_hpa: 962.0, relative_humidity_pct: 40}
liquids:
  pale-oil: {density_kg_m3: 830, reference_c: 20.0, expansion_per_k: 0.00085, density_u_kg_m3: 0.4}
instruments:
  bank-1:
    offline: true
    liquid: pale-oil
    geometry: {kind: inclined-reservoir, slope_deg: 11.54, bore_mm: 4.0, reservoir_bore_mm: 40.0, scale_mm: [0, 300]}
    zero: {low_mm: 10.2, temperature_c: 20.4}
    SIGNAL
`
