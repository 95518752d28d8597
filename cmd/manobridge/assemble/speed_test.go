package assemble_test

import (
	"testing"

	"manobridge/cmd/manobridge/assemble"
	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/quantity"
)

// One reading of every kind of the example, with its full uncertainty.
func BenchmarkConvertEveryKind(b *testing.B) {
	c, err := configs.Load("../../../configs/every-kind.example.yaml", configs.Options{})
	if err != nil {
		b.Fatal(err)
	}
	for i := range c.Instruments {
		in := &c.Instruments[i]
		b.Run(in.Geometry.Kind+"/"+in.Name, func(b *testing.B) {
			conv, err := assemble.Converter(c, in)
			if err != nil {
				b.Fatal(err)
			}
			rd := convert.Reading{Name: convert.Name{Run: "r", Instrument: in.Name, Seq: 1},
				Temperature: convert.Some(quantity.Celsius(21)), Indicated: convert.Some(20.0)}
			// Somewhere on the scale of the instrument that gives a pressure.
			for mm := 0.0; mm < 1500; mm += 5 {
				rd.High, rd.Low = convert.Some(quantity.Millimetres(mm)), convert.Some(quantity.Millimetres(mm))
				if _, ok := pressure(conv, rd); ok {
					break
				}
			}
			if r, ok := pressure(conv, rd); !ok {
				b.Fatalf("got no pressure: %v", r.Refusal)
			}
			b.ReportAllocs()
			for b.Loop() {
				conv.Convert(rd)
			}
		})
	}
}

func pressure(c *convert.Converter, rd convert.Reading) (convert.Result, bool) {
	r := c.Convert(rd)
	_, ok := r.Pressure()
	return r, ok
}
