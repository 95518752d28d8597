package simulate

import "time"

// vertical is a limb that stands upright by construction.
var vertical = Input{90, 0}

// TestHall declares the example: a filter-test bench and a suite of three rooms, nine instruments on two lines.
func TestHall() Declared {
	return Declared{
		Site: "test-hall", Bridge: "demo",
		Gravity: Input{9.80712, 0.00005},
		Ambient: Ambient{TemperatureC: Input{21.5, 0.8}, PressureHPa: Input{968, 1.5}, HumidityPct: Input{45, 8}},
		Liquids: []Liquid{
			{Name: "pale-oil", DensityKgM3: Input{826.4, 0.35}, ReferenceC: 20, ExpansionPerK: Input{8.3e-4, 2.5e-5}},
			{Name: "amber-oil", DensityKgM3: Input{871.2, 0.4}, ReferenceC: 20, ExpansionPerK: Input{7.4e-4, 2.5e-5}},
			{Name: "spirit-mix", DensityKgM3: Input{934.6, 0.5}, ReferenceC: 20, ExpansionPerK: Input{8.1e-4, 3e-5}}, // near 40 % ethanol by mass
		},
		WaterU: 1e-5, // distilled, of isotopes nobody assayed. Common practice of density laboratories, no document at hand
		Ports: []Port{
			{Name: "slant-rack", Baud: 19200, Period: 100 * time.Millisecond},
			{Name: "upright-rack", Baud: 9600, Period: 500 * time.Millisecond, BothLimbs: true},
		},
		Instruments: []Instrument{
			slant("bank-a", "01", "pre-filter bank, changed when loaded", "pale-oil", slantTube{11.4, 4.2, 44, 320, 24, [2]float64{0, 450}, 26}),
			slant("bank-b", "02", "final bank", "amber-oil", slantTube{19.3, 4.6, 52, 290, 18, [2]float64{0, 700}, 34}),
			fanHeader(), exhaustDuct(),
			slant("airlock", "05", "airlock against the corridor", "spirit-mix", slantTube{5.8, 3.8, 60, 140, 30, [2]float64{0, 60}, 40}),
			slant("gowning", "06", "gowning room against the corridor", "spirit-mix", slantTube{5.8, 3.8, 60, 140, 22, [2]float64{0, 60}, 40}),
			slant("filling-room", "07", "filling room against the corridor", "pale-oil", slantTube{6.4, 3.8, 60, 150, 26, [2]float64{0, 80}, 40}),
			supplyDuct(), benchTotal(),
		},
		Story: newDustDay,
	}
}

// slantTube is what differs between the inclined-reservoir instruments of one make.
type slantTube struct {
	slopeDeg, boreMm, reservoirMm, scaleMm, restMm float64

	rangePa  [2]float64
	chargeMl float64
}

func slant(name, address, about, liquid string, t slantTube) Instrument {
	return Instrument{
		Name: name, Port: "slant-rack", Address: address, About: about,
		Kind: InclinedReservoir, Liquid: liquid,
		High: Limb{SlopeDeg: vertical, BoreMm: Input{t.reservoirMm, 0.2}},
		Low:  Limb{SlopeDeg: Input{t.slopeDeg, 0.03}, BoreMm: Input{t.boreMm, 0.05}, ScaleMm: [2]float64{0, t.scaleMm}},
		// Milled from acrylic, its scale engraved.
		ScaleExpansionPerK: Input{7e-5, 7e-6}, ScaleReferenceC: 20,
		ChargeMl: Input{t.chargeMl, 1.5}, BodyExpansionPerK: Input{7e-5, 7e-6},
		RestMm: t.restMm, RestC: 20.4, Zero: true,
		PositionU: 0.08, ZeroU: 0.06, TemperatureU: 0.25, ResolutionMm: 0.05,
		RangePa: t.rangePa,
	}
}

// fanHeader has one position digitized; a tie gives the other, and no zero takes out what its slopes and heights are off.
func fanHeader() Instrument {
	return Instrument{
		Name: "fan-header", Port: "slant-rack", Address: "03", About: "fan header against the hall; low limb digitized, the high one follows from the tie",
		Kind: LimbPair, Liquid: "spirit-mix",
		High:   Limb{SlopeDeg: Input{90, 0.06}, BoreMm: Input{14, 0.06}, TapHeightMm: Input{640, 0.5}, ScaleMm: [2]float64{0, 400}},
		Low:    Limb{SlopeDeg: Input{32, 0.06}, BoreMm: Input{5.2, 0.06}, ScaleZeroHeightMm: Input{45, 0}, TapHeightMm: Input{655, 0.5}, ScaleMm: [2]float64{0, 600}},
		RestMm: 110, RestC: 20.9, Tie: true, TiePa: 312,
		PositionU: 0.1, TieU: 0.1, TemperatureU: 0.25, ResolutionMm: 0.05,
		RangePa: [2]float64{0, 1100},
	}
}

func exhaustDuct() Instrument {
	return Instrument{
		Name: "exhaust-duct", Port: "slant-rack", Address: "04", About: "hall against the exhaust duct; one limb digitized",
		Kind: UTube, Liquid: Water,
		High:   Limb{SlopeDeg: vertical, BoreMm: Input{8.4, 0.06}, ScaleMm: [2]float64{0, 300}},
		Low:    Limb{SlopeDeg: vertical, BoreMm: Input{6.6, 0.06}, ScaleMm: [2]float64{0, 300}},
		RestMm: 120, RestC: 21.1, Zero: true,
		PositionU: 0.1, ZeroU: 0.08, TemperatureU: 0.25, ResolutionMm: 0.05,
		RangePa: [2]float64{0, 1200},
	}
}

func supplyDuct() Instrument {
	return Instrument{
		Name: "supply-duct", Port: "upright-rack", Address: "21", About: "supply duct against the hall",
		Kind: UTube, Liquid: Water,
		High:               Limb{SlopeDeg: vertical, BoreMm: Input{7, 0}, ScaleMm: [2]float64{0, 300}},
		Low:                Limb{SlopeDeg: vertical, BoreMm: Input{7, 0}, ScaleMm: [2]float64{0, 300}},
		ScaleExpansionPerK: Input{1.1e-5, 2e-6}, ScaleReferenceC: 20, // steel
		RestMm: 150, RestC: 20.7, Zero: true,
		PositionU: 0.05, ZeroU: 0.04, TemperatureU: 0.2, ResolutionMm: 0.02,
		RangePa: [2]float64{0, 2000},
	}
}

// benchTotal carries oil over the water of its high limb, up to the tap, so the dusty air never meets the water.
func benchTotal() Instrument {
	return Instrument{
		Name: "bench-total", Port: "upright-rack", Address: "22", About: "both banks together; oil over the water of the high limb",
		Kind: LimbPair, Liquid: Water,
		High:   Limb{SlopeDeg: Input{90, 0.05}, BoreMm: Input{12, 0.08}, Over: "pale-oil", TapHeightMm: Input{350, 0.4}, ScaleMm: [2]float64{0, 350}},
		Low:    Limb{SlopeDeg: Input{60, 0.05}, BoreMm: Input{7, 0.08}, ScaleZeroHeightMm: Input{12, 0}, TapHeightMm: Input{655, 0.4}, ScaleMm: [2]float64{0, 620}},
		RestMm: 355, RestC: 21.0, Zero: true,
		PositionU: 0.08, ZeroU: 0.06, TemperatureU: 0.2, ResolutionMm: 0.02,
		RangePa: [2]float64{0, 1000},
	}
}
