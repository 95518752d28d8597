package review

import (
	"slices"
	"testing"

	"manobridge/configs"
)

// The sheet says of the laboratory of the example where each value comes from and what holds without it.
func TestSheetSaysWhereChannelsComeFrom(t *testing.T) {
	c, err := configs.Load("../../../configs/room-channels.example.yaml", configs.Options{HostName: "lab", SkipSecrets: true})
	if err != nil {
		t.Fatal(err)
	}
	want := map[string][]string{
		"test-filter": {"liquid temperature from oil-bath, at most 2m old, else 21 °C and uncertain",
			"air temperature from room-probe, at most 5m old, else 21 °C and uncertain",
			"air pressure from room-probe, at most 5m old, else 962 hPa and uncertain",
			"humidity from room-probe, at most 5m old, else 40 % and uncertain"},
		"orifice": {"liquid temperature from oil-bath, at most 2m old, else no result", "air temperature fixed at 21 °C",
			"air pressure from room-probe, at most 30m old, else no result", "humidity from room-probe, at most 5m old, else 40 % and uncertain"},
	}
	for i := range c.Instruments {
		card, err := Instrument(c, &c.Instruments[i])
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(card.Channels, want[card.Name]) {
			t.Errorf("%s: got %q, want %q", card.Name, card.Channels, want[card.Name])
		}
		average := ""
		if card.Name == "test-filter" {
			average = "over 10s; uncertain where under 80 % of the readings are good"
		}
		if card.Average != average {
			t.Errorf("%s: got average %q, want %q", card.Name, card.Average, average)
		}
	}
}
