package review

import (
	"fmt"
	"math"
	"strings"

	"manobridge/cmd/manobridge/assemble"
	"manobridge/configs"
	"manobridge/convert"
)

// LimitCard is one limit, with what the instrument can tell about it.
type LimitCard struct {
	Name     string   `json:"limit"`
	Of       string   `json:"of"`
	LowPa    *float64 `json:"low_pa,omitempty"`  // or Pa/s
	HighPa   *float64 `json:"high_pa,omitempty"` // or Pa/s
	Rate     bool     `json:"rate"`
	Decision string   `json:"decision"`
	Priority string   `json:"priority"`
	Delay    string   `json:"on_delay"`
	// UPa is the expanded uncertainty at the bound where it is larger, 0 where it cannot be told beforehand.
	UPa   float64  `json:"expanded_uncertainty_pa,omitempty"`
	Notes []string `json:"notes"`
}

// Limits makes the cards of all limits.
func Limits(c *configs.Config) ([]LimitCard, error) {
	out := []LimitCard{}
	for i := range c.Limits {
		card, err := limit(c, &c.Limits[i])
		if err != nil {
			return nil, fmt.Errorf("limit %s: %w", c.Limits[i].Name, err)
		}
		out = append(out, card)
	}
	return out, nil
}

func limit(c *configs.Config, l *configs.Limit) (LimitCard, error) {
	b := l.Bounds()
	card := LimitCard{Name: l.Name, Of: strings.Join(l.Instruments(), " less "), LowPa: finite(b.Low), HighPa: finite(b.High), Rate: l.Rate != nil,
		Decision: l.Decision, Priority: l.Priority, Delay: "0s", Notes: []string{}}
	if l.OnDelay != nil {
		card.Delay = short(l.OnDelay.Time)
	}
	if l.Rate != nil || l.Difference != nil {
		return card, nil
	}
	in := assemble.Instrument(c, l.Of)
	conv, err := assemble.Converter(c, in)
	if err != nil {
		return card, err
	}
	for _, bound := range []*float64{card.LowPa, card.HighPa} {
		if bound == nil {
			continue
		}
		u, ok := uncertaintyAt(conv, *bound)
		if !ok {
			card.Notes = append(card.Notes, fmt.Sprintf("the bound of %.4g Pa is not on the scale: it can never be seen to be crossed", *bound))
			continue
		}
		card.UPa = math.Max(card.UPa, u)
	}
	card.judge(b, in)
	return card, nil
}

// judge says what the uncertainty leaves of the limit.
func (card *LimitCard) judge(b configs.Bounds, in *configs.Instrument) {
	if card.UPa == 0 {
		return
	}
	note := func(format string, args ...any) { card.Notes = append(card.Notes, fmt.Sprintf(format, args...)) }
	if width := b.High - b.Low; width <= 2*card.UPa {
		note("the window of %.3g Pa is narrower than twice the uncertainty of %.2g Pa: inside can never be told; a finer instrument is needed", width, card.UPa)
		return
	}
	room := math.Inf(1)
	if in.RangePa != nil {
		if card.LowPa != nil {
			room = math.Min(room, in.RangePa[1]-b.Low)
		}
		if card.HighPa != nil {
			room = math.Min(room, b.High-in.RangePa[0])
		}
	}
	nearest := math.Inf(1)
	for _, bound := range []*float64{card.LowPa, card.HighPa} {
		if bound != nil && *bound != 0 {
			nearest = math.Min(nearest, math.Abs(*bound))
		}
	}
	if nearest < card.UPa {
		note("the bound is smaller than the uncertainty of %.2g Pa: the instrument cannot support this criterion", card.UPa)
	} else if room < 2*card.UPa {
		note("the range leaves less than twice the uncertainty of %.2g Pa on the inside", card.UPa)
	}
}

// uncertaintyAt is the expanded uncertainty of a reading at that pressure; false where there is none on the scale.
func uncertaintyAt(conv *convert.Converter, pa float64) (float64, bool) {
	p, err := conv.Predict(pa, conv.ZeroTemperature())
	if err != nil || !p.OnScale {
		return 0, false
	}
	return p.ExpandedU, true
}

// text gives one limit in one paragraph; by turns Pa into unit.
func (card LimitCard) text(unit string, by float64) string {
	if unit == "" {
		unit, by = "Pa", 1
	}
	per := ""
	if card.Rate {
		by, per = by*60, "/min"
	}
	bounds := []string{}
	if card.LowPa != nil {
		bounds = append(bounds, fmt.Sprintf("at least %.5g %s%s", *card.LowPa*by, unit, per))
	}
	if card.HighPa != nil {
		bounds = append(bounds, fmt.Sprintf("at most %.5g %s%s", *card.HighPa*by, unit, per))
	}
	s := fmt.Sprintf("%s: %s, %s, %s priority, after %s, by %s", card.Name, card.Of, strings.Join(bounds, " and "), card.Priority, card.Delay, card.Decision)
	if card.UPa > 0 {
		s += fmt.Sprintf("; U there %.2g %s, so cannot-tell from %.2g %s either side of the bound", card.UPa*by, unit, card.UPa*by, unit)
	}
	for _, n := range card.Notes {
		s += "; NOTE: " + n
	}
	return s
}

func finite(v float64) *float64 {
	if math.IsInf(v, 0) {
		return nil
	}
	return &v
}
