package frame_test

import (
	"testing"

	"manobridge/ingest/frame"
)

// Every decoder, one good frame of it at a time.
func BenchmarkDecode(b *testing.B) {
	for _, f := range []struct {
		o    frame.Options
		data string
	}{
		{bench, "02,110.53,21.04\r\n"},
		{patterned, "ChA1:   110.5 mm T=21.0\r\n"},
		{objects, `{"t":21.0,"id":"A1","edge":{"low":110.5,"score":97},"note":null}` + "\r\n"},
		{sentences, nmea("WIXDR,C,21.0,C,LIQUID,D,0.1105,M,COLUMN") + "\r\n"},
		{packed, bytesOf(b, goodFrame)},
	} {
		b.Run(f.o.Format, func(b *testing.B) {
			d, data := decoder(b, f.o), []byte(f.data)
			var got frame.Frame
			b.ReportAllocs()
			for b.Loop() {
				d.Feed(data, frame.Stamp{})
				for d.Next(&got) {
					if got.Refusal != nil {
						b.Fatal(got.Refusal)
					}
				}
			}
		})
	}
}
