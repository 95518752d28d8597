package frame

import (
	"testing"

	"manobridge/convert"
)

// A contact says 0 or 1, and nothing else is taken for either.
func TestContact(t *testing.T) {
	for text, want := range map[string]float64{"0": 0, "1": 1, "1.0": 1, "2": -1, "0.5": -1, "-1": -1, "open": -1} {
		d, err := New(Options{Format: "delimited", Separator: ",", Fields: []string{"address", "contact"}, ChannelsOnly: true})
		if err != nil {
			t.Fatal(err)
		}
		d.Feed([]byte("\nD1,"+text+"\n"), Stamp{})
		var f Frame
		if !d.Next(&f) {
			t.Fatalf("%s: got no frame", text)
		}
		if want < 0 {
			if f.Refusal == nil || f.Refusal.Code != convert.FrameNumber || f.Contact.Set {
				t.Errorf("%s: got %v, %v, want it refused", text, f.Contact, f.Refusal)
			}
			continue
		}
		if f.Refusal != nil || !f.Contact.Set || f.Contact.V != want {
			t.Errorf("%s: got %v, %v, want %v", text, f.Contact, f.Refusal, want)
		}
	}
}
