package frame_test

import (
	"testing"

	"manobridge/convert"
	"manobridge/ingest/frame"
)

// Sentences as they are printed in public, whole, with the check values printed there. All from memory; that each check
// value fits speaks for it. The first two: manual of the OpenCPN dashboard. The others: user's guides of weather
// transmitters, where each type counts its transducers from 0, so that names stand twice, and pressure may come in hPa.
func TestPublicSentences(t *testing.T) {
	f := one(t, frame.Options{Format: "nmea-xdr", ChannelsOnly: true, Transducers: map[string]string{"TempAir": "ambient_c"}}, "$IIXDR,C,19.52,C,TempAir*19\r\n")
	if f.Refusal != nil || !near(f.AmbientTemperature.V.Celsius(), 19.52) {
		t.Errorf("got %v, %v; want 19.52 °C", f.AmbientTemperature.V.Celsius(), f.Refusal)
	}
	f = one(t, frame.Options{Format: "nmea-xdr", ChannelsOnly: true, Transducers: map[string]string{"Barometer": "pressure_hpa"}}, "$IIXDR,P,1.02481,B,Barometer*29\r\n")
	if f.Refusal != nil || !near(float64(f.AmbientPressure.V), 102481) { // 1 bar = 100 000 Pa, exact
		t.Errorf("got %v Pa, %v; want 102481", f.AmbientPressure.V, f.Refusal)
	}
	const weather = "$WIXDR,C,24.0,C,0,C,25.2,C,1,H,47.4,P,0,P,1010.1,H,0*54\r\n"
	f = one(t, frame.Options{Format: "nmea-xdr", ChannelsOnly: true, TalkerAddress: true, Transducers: map[string]string{"0": "pressure_hpa", "1": "temperature_c"}}, weather)
	if f.Refusal != nil || !near(float64(f.AmbientPressure.V), 101010) || !near(f.Temperature.V.Celsius(), 25.2) || string(f.Address) != "WI" {
		t.Errorf("got %v Pa, %v °C of %q, %v; want 101010, 25.2 of WI", f.AmbientPressure.V, f.Temperature.V.Celsius(), f.Address, f.Refusal)
	}
	f = one(t, frame.Options{Format: "nmea-xdr", ChannelsOnly: true, Transducers: map[string]string{"0": "humidity_pct"}}, weather)
	if f.Refusal != nil || !near(float64(f.AmbientHumidity.V), 0.474) {
		t.Errorf("got %v, %v; want 0.474", f.AmbientHumidity.V, f.Refusal)
	}
	// The two below hold nothing that is wanted; their check values fit, and what is missing is said.
	for _, sentence := range []string{"$WIXDR,A,316,D,0,A,326,D,1,A,330,D,2,S,0.1,M,0,S,0.1,M,1,S,0.1,M,2*57", "$WIXDR,C,022.0,C,,*52"} {
		f := one(t, frame.Options{Format: "nmea-xdr", ChannelsOnly: true, Transducers: map[string]string{"0": "pressure_hpa"}}, sentence+"\r\n")
		if f.Refusal == nil || f.Refusal.Code != convert.FrameFields || f.Refusal.Seen != `is missing: no transducer "0" of type P` {
			t.Errorf("%s: got %v, want the pressure missed and nothing else", sentence, f.Refusal)
		}
	}
}
