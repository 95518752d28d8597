package sizing

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"manobridge/cmd/manobridge/assemble"
	"manobridge/cmd/manobridge/caution"
	"manobridge/configs"
	"manobridge/convert/fluid"
	"manobridge/convert/quantity"
)

// The grid of the search. Bores and slopes that glass and brackets are made in; common practice, no source.
var (
	slopesDeg    = []float64{90, 60, 45, 30, 25, 20, 15, 12, 10, 8, 7, 6, 5, 4, 3, 2}
	boresMM      = []float64{3, 4, 6}
	reservoirsMM = []float64{40, 60, 100}
)

const (
	// leastSlopeDeg: below it the meniscus is drawn out along the tube and its bore and straightness decide. Common practice.
	leastSlopeDeg = 5.0
	// marginMM is left on the scale beyond each end of the range.
	marginMM = 10.0
	// uTubeBoreMM of a plain U-tube; with equal bores it moves nothing.
	uTubeBoreMM = 6.0
)

// The reasons to refuse a candidate, in the order they are looked at.
const (
	reasonDensity    = "density not vouched for over the temperature span"
	reasonVolatile   = "liquid too volatile"
	reasonStretched  = "meniscus stretched below 5°"
	reasonLong       = "tube too long"
	reasonResolution = "resolution not reached"
	reasonConverter  = "cannot be computed"
)

// Sizing is the outcome of a search.
type Sizing struct {
	RangePa      [2]float64 `json:"range_pa"`
	ResolvePa    float64    `json:"resolve_pa"`
	TemperatureC [2]float64 `json:"temperature_span_c"`
	MaxLengthMM  float64    `json:"max_length_mm"`
	PositionMM   float64    `json:"position_mm"`

	Tried      int         `json:"tried"`
	Accepted   int         `json:"accepted"`
	Candidates []Candidate `json:"candidates"` // the best ones, the bores with the least uncertainty for each slope and liquid
	Refused    []Refused   `json:"refused"`

	Assumptions []string `json:"assumptions"`
	Cautions    []string `json:"cautions"`
}

// Refused is how many candidates fell to one reason, with the one that came nearest.
type Refused struct {
	Reason  string `json:"reason"`
	Count   int    `json:"count"`
	Example string `json:"example"`
	miss    float64
}

// search is one search under way.
type search struct {
	*Request
	site    *configs.Config
	gasKgM3 float64
	g       float64
	out     Sizing
	refused map[string]*Refused
	best    map[string]Candidate // by liquid, kind and slope
}

// Search tries the grid. Finding nothing is an answer, not an error.
func Search(r Request) (Sizing, error) {
	if err := r.check(); err != nil {
		return Sizing{}, err
	}
	s := search{Request: &r, site: r.site(), refused: map[string]*Refused{}, best: map[string]Candidate{}, out: Sizing{
		RangePa: r.RangePa, ResolvePa: r.ResolvePa, TemperatureC: r.TemperatureC, MaxLengthMM: r.MaxLengthMM, PositionMM: r.PositionMM,
		Candidates: []Candidate{}, Refused: []Refused{}}}
	if err := s.surroundings(); err != nil {
		return Sizing{}, err
	}
	names, err := r.liquids(s.site)
	if err != nil {
		return Sizing{}, err
	}
	for _, name := range names {
		if err := s.liquid(name); err != nil {
			return Sizing{}, err
		}
	}
	s.finish()
	return s.out, nil
}

// surroundings works out the air and the gravity that lengths are estimated with.
func (s *search) surroundings() error {
	g, err := assemble.Gravity(s.site.Location)
	if err != nil {
		return err
	}
	a := s.site.Ambient
	rho, err := fluid.MoistAir(quantity.Celsius(*a.TemperatureC), quantity.AbsolutePressure(*a.PressureHPa*100), quantity.Ratio(*a.RelativeHumidityPct/100))
	if err != nil {
		return fmt.Errorf("ambient air: %w", err)
	}
	s.g, s.gasKgM3 = float64(g.Value), float64(rho)
	return nil
}

// liquid tries every shape with one liquid.
func (s *search) liquid(name string) error {
	slopes := slopesDeg
	if s.slopes != nil {
		slopes = s.slopes
	}
	shapes := len(slopes)*len(boresMM)*len(reservoirsMM) + 1
	s.out.Tried += shapes
	least, err := s.leastDensity(name)
	var out *fluid.RangeError
	if errors.As(err, &out) {
		s.refuse(reasonDensity, shapes, 0, err.Error())
		return nil
	}
	if err != nil {
		return err
	}
	if flash, known := flashPoint(name); known && s.TemperatureC[1] > flash-flashMarginK {
		s.refuse(reasonVolatile, shapes, s.TemperatureC[1]-flash,
			fmt.Sprintf("%s: flash point about %.0f °C, must be %g K above the warmest room, %g °C", name, flash, flashMarginK, s.TemperatureC[1]))
		return nil
	}
	s.shape(Candidate{Liquid: name, Kind: configs.UTube, SlopeDeg: 90, BoreMM: uTubeBoreMM}, least)
	for _, slope := range slopes {
		for _, bore := range boresMM {
			for _, wide := range reservoirsMM {
				s.shape(Candidate{Liquid: name, Kind: configs.InclinedReservoir, SlopeDeg: slope, BoreMM: bore, ReservoirMM: &wide}, least)
			}
		}
	}
	return nil
}

// leastDensity is the density that makes the longest column over the span. A density rises or falls steadily between its
// ends, but for water near 4 °C, where it changes by 0.01 %.
func (s *search) leastDensity(name string) (float64, error) {
	f, err := assemble.Fluid(s.site, name)
	if err != nil {
		return 0, err
	}
	least := math.Inf(1)
	for _, celsius := range append(s.TemperatureC[:], s.midC()) {
		st, err := f.At(quantity.Celsius(celsius))
		if err != nil {
			return 0, err
		}
		least = math.Min(least, float64(st.Density))
	}
	return least, nil
}

// shape lays out one candidate's scale, and computes it where nothing speaks against it.
func (s *search) shape(k Candidate, density float64) {
	if k.SlopeDeg < leastSlopeDeg {
		s.refuse(reasonStretched, 1, leastSlopeDeg-k.SlopeDeg, k.name())
		return
	}
	perPa := k.mmPerPa(density-s.gasKgM3, s.g)
	below, above := math.Max(0, -s.RangePa[0])*perPa+marginMM, math.Max(0, s.RangePa[1])*perPa+marginMM
	if k.Kind == configs.UTube {
		half := upTo5(math.Max(below, above))
		k.ScaleMM = [2]float64{-half, half}
	} else {
		k.ZeroMM = math.Ceil(below)
		k.ScaleMM = [2]float64{0, upTo5(k.ZeroMM + above)}
	}
	k.LengthMM = k.ScaleMM[1] - k.ScaleMM[0]
	if k.LengthMM > s.MaxLengthMM {
		s.refuse(reasonLong, 1, k.LengthMM/s.MaxLengthMM, fmt.Sprintf("%s: %.0f mm of scale, allowed %.0f mm", k.name(), k.LengthMM, s.MaxLengthMM))
		return
	}
	if step := s.PositionMM / perPa; step > s.ResolvePa {
		s.refuse(reasonResolution, 1, step/s.ResolvePa, fmt.Sprintf("%s: %g mm is %.3g Pa, wanted %.3g Pa", k.name(), s.PositionMM, step, s.ResolvePa))
		return
	}
	if err := s.evaluate(s.site, &k); err != nil {
		s.refuse(reasonConverter, 1, 0, k.name()+": "+err.Error())
		return
	}
	s.out.Accepted++
	key := fmt.Sprint(k.Liquid, k.Kind, k.SlopeDeg)
	if old, seen := s.best[key]; !seen || better(&k, &old) < 0 {
		s.best[key] = k
	}
}

// mmPerPa is how far the read meniscus moves along its limb, to lay out the scale:
//
//	1 / (Δρ g (sin θ + a/A))   or, for each limb of a U-tube,   1 / (2 Δρ g)
func (k *Candidate) mmPerPa(contrast, g float64) float64 {
	if k.Kind == configs.UTube {
		return 1000 / (2 * contrast * g)
	}
	ratio := math.Pow(k.BoreMM / *k.ReservoirMM, 2)
	return 1000 / (contrast * g * (math.Sin(k.SlopeDeg*math.Pi/180) + ratio))
}

func upTo5(mm float64) float64 { return math.Ceil(mm/5) * 5 }

// name says which candidate it is.
func (k *Candidate) name() string {
	if k.Kind == configs.UTube {
		return k.Liquid + " in a u-tube"
	}
	return fmt.Sprintf("%s at %g°, bores %g and %g mm", k.Liquid, k.SlopeDeg, k.BoreMM, *k.ReservoirMM)
}

// refuse counts candidates under a reason and keeps the example that missed by least.
func (s *search) refuse(reason string, count int, miss float64, example string) {
	r := s.refused[reason]
	if r == nil {
		r = &Refused{Reason: reason, Example: example, miss: miss}
		s.refused[reason] = r
	}
	r.Count += count
	if miss < r.miss {
		r.Example, r.miss = example, miss
	}
}

// better orders by uncertainty, then by length.
func better(a, b *Candidate) int {
	return cmp.Or(cmp.Compare(a.ExpandedUPa, b.ExpandedUPa), cmp.Compare(a.LengthMM, b.LengthMM), cmp.Compare(a.name(), b.name()))
}

// finish ranks, counts and says what was assumed.
func (s *search) finish() {
	for _, k := range s.best {
		s.out.Candidates = append(s.out.Candidates, k)
	}
	slices.SortFunc(s.out.Candidates, func(a, b Candidate) int { return better(&a, &b) })
	s.out.Candidates = s.out.Candidates[:min(len(s.out.Candidates), s.Top)]
	for _, reason := range []string{reasonDensity, reasonVolatile, reasonStretched, reasonLong, reasonResolution, reasonConverter} {
		if r := s.refused[reason]; r != nil {
			s.out.Refused = append(s.out.Refused, *r)
		}
	}
	var liquids []string
	for _, k := range s.out.Candidates {
		liquids = append(liquids, k.Liquid)
	}
	s.out.Cautions = caution.For(liquids...)
	s.out.Assumptions = s.assumptions()
}
