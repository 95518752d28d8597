package simulate

import (
	"fmt"
	"strconv"
	"strings"
)

// Places are the things of the machine a configuration names, which a simulator cannot know.
type Places struct {
	Devices map[string]string // port name to device path
	Broker  string            // MQTT URL; empty: not published there
	Prefix  string            // topic prefix; empty: manobridge
	Series  SeriesPlace       // time-series store; empty URL: not written there
	Journal string            // path of the journal
}

// SeriesPlace is a time-series store.
type SeriesPlace struct{ URL, Org, Bucket, TokenFile string }

// Config writes the bridge's configuration for the hall: what was declared, and the zero and tie readings as taken.
// Every uncertainty that is drawn is declared, and what is exact is written as 0.
func (h *Hall) Config(p Places) string {
	d := &h.Declared
	var w yamlText
	w.line("# A filter-test bench and a suite of three rooms, simulated: seed %d.", h.Seed)
	w.line("# Every value below was declared; what is really there was drawn around it, and the bridge is not told.")
	w.line("site: %s", d.Site)
	w.line("bridge: %s", d.Bridge)
	w.line("location: {gravity_m_s2: %s, gravity_u_m_s2: %s}", num(d.Gravity.Value), num(d.Gravity.U))
	w.line("ambient: {temperature_c: %s, pressure_hpa: %s, relative_humidity_pct: %s}",
		num(d.Ambient.TemperatureC.Value), num(d.Ambient.PressureHPa.Value), num(d.Ambient.HumidityPct.Value))
	w.line("")
	w.line("liquids:")
	for _, l := range d.Liquids {
		w.line("  %s: {density_kg_m3: %s, reference_c: %s, expansion_per_k: %s, density_u_kg_m3: %s, expansion_u_per_k: %s}", l.Name,
			num(l.DensityKgM3.Value), num(l.ReferenceC), num(l.ExpansionPerK.Value), num(l.DensityKgM3.U), num(l.ExpansionPerK.U))
	}
	w.line("")
	w.line("ports:")
	for _, port := range d.Ports {
		fields := "address, low_mm, temperature_c"
		if port.BothLimbs {
			fields = "address, low_mm, high_mm, temperature_c"
		}
		w.line("  %s:", port.Name)
		w.line("    device: %s", quoted(p.Devices[port.Name]))
		w.line("    baud: %d", port.Baud)
		w.line("    frame: {format: delimited, separator: \",\", fields: [%s]}", fields)
		w.line("    silence: %s", 20*port.Period)
	}
	w.line("")
	w.line("instruments:")
	for i := range d.Instruments {
		h.instrument(&w, &d.Instruments[i])
	}
	w.publish(p)
	w.line("journal: {path: %s}", quoted(p.Journal))
	return w.String()
}

// instrument writes one instrument's block.
func (h *Hall) instrument(w *yamlText, in *Instrument) {
	w.line("  %s: # %s", in.Name, in.About)
	w.line("    port: %s", in.Port)
	w.line("    address: %s", quoted(in.Address))
	w.line("    liquid: %s", in.Liquid)
	w.line("    geometry:")
	w.line("      kind: %s", in.Kind)
	switch in.Kind {
	case UTube:
		if in.High.BoreMm == in.Low.BoreMm {
			w.line("      bore_mm: %s", num(in.Low.BoreMm.Value))
		} else {
			w.line("      high_bore_mm: %s", num(in.High.BoreMm.Value))
			w.line("      low_bore_mm: %s", num(in.Low.BoreMm.Value))
		}
		w.line("      scale_mm: %s", span(in.Low.ScaleMm))
	case InclinedReservoir:
		w.line("      slope_deg: %s", num(in.Low.SlopeDeg.Value))
		w.line("      bore_mm: %s", num(in.Low.BoreMm.Value))
		w.line("      reservoir_bore_mm: %s", num(in.High.BoreMm.Value))
		w.line("      scale_mm: %s", span(in.Low.ScaleMm))
	case LimbPair:
		w.line("      high: %s", limb(in.High))
		w.line("      low: %s", limb(in.Low))
	}
	if in.ScaleExpansionPerK != (Input{}) {
		w.line("      scale_expansion_per_k: %s", num(in.ScaleExpansionPerK.Value))
		w.line("      scale_reference_c: %s", num(in.ScaleReferenceC))
	}
	if in.ChargeMl.Value > 0 {
		w.line("      charge_ml: %s", num(in.ChargeMl.Value))
		w.line("      body_expansion_per_k: %s", num(in.BodyExpansionPerK.Value))
	}
	both := h.Declared.digitizesHigh(in)
	if o, ok := h.zeros[in.Name]; ok {
		w.line("    zero: %s", pair(o, both))
	}
	if o, ok := h.ties[in.Name]; ok {
		w.line("    tie: %s", pair(o, true))
	}
	w.flow("    uncertainty: ", h.uncertainty(in))
	w.line("    range_pa: %s", span(in.RangePa))
}

// uncertainty lists the standard uncertainties of one instrument, as the owner declares them: what is drawn, and 0 for
// what the simulator keeps exact.
func (h *Hall) uncertainty(in *Instrument) []string {
	a := &h.Declared.Ambient
	list := []string{
		kv("position_mm", in.PositionU), kv("resolution_mm", in.ResolutionMm), kv("meniscus_mm", 0),
		kv("temperature_c", in.TemperatureU), kv("scale_expansion_per_k", in.ScaleExpansionPerK.U),
		kv("ambient_temperature_c", a.TemperatureC.U), kv("ambient_pressure_hpa", a.PressureHPa.U), kv("ambient_humidity_pct", a.HumidityPct.U),
		kv("tilt_deg", 0), kv("cross_tilt_deg", 0),
	}
	if in.Zero {
		list = append(list, kv("zero_mm", in.ZeroU), kv("zero_temperature_c", in.TemperatureU))
	}
	if in.Tie {
		list = append(list, kv("tie_mm", in.TieU), kv("tie_temperature_c", in.TemperatureU))
	}
	if in.ChargeMl.Value > 0 {
		list = append(list, kv("charge_ml", in.ChargeMl.U), kv("body_expansion_per_k", in.BodyExpansionPerK.U))
	}
	switch in.Kind {
	case UTube:
		list = append(list, kv("bore_mm", in.Low.BoreMm.U), kv("tap_height_mm", 0))
	case InclinedReservoir:
		list = append(list, kv("slope_deg", in.Low.SlopeDeg.U), kv("bore_mm", in.Low.BoreMm.U), kv("reservoir_bore_mm", in.High.BoreMm.U), kv("tap_height_mm", 0))
	case LimbPair:
		list = append(list, limbUncertainty("high", in.High), limbUncertainty("low", in.Low))
	}
	return list
}

// limbUncertainty is what is stated for one limb of a limb-pair.
func limbUncertainty(side string, l Limb) string {
	return side + ": {" + strings.Join([]string{
		kv("slope_deg", l.SlopeDeg.U), kv("bore_mm", l.BoreMm.U),
		kv("scale_zero_height_mm", l.ScaleZeroHeightMm.U), kv("tap_height_mm", l.TapHeightMm.U),
	}, ", ") + "}"
}

// publish writes where results go.
func (w *yamlText) publish(p Places) {
	if p.Broker == "" && p.Series.URL == "" {
		return
	}
	prefix := p.Prefix
	if prefix == "" {
		prefix = "manobridge"
	}
	w.line("")
	w.line("publish:")
	if p.Broker != "" {
		w.line("  mqtt: {url: %s, prefix: %s}", quoted(p.Broker), prefix)
	}
	if s := p.Series; s.URL != "" {
		token := ""
		if s.TokenFile != "" {
			token = ", token_file: " + quoted(s.TokenFile)
		}
		w.line("  series: {url: %s, org: %s, bucket: %s%s}", quoted(s.URL), quoted(s.Org), quoted(s.Bucket), token)
	}
}

// yamlText collects lines.
type yamlText struct{ strings.Builder }

func (w *yamlText) line(format string, a ...any) { fmt.Fprintf(w, format+"\n", a...) }

// flow writes a mapping over as many lines as it needs.
func (w *yamlText) flow(head string, entries []string) {
	const width = 110
	text, indent := head+"{", strings.Repeat(" ", len(head)+1)
	for i, e := range entries {
		switch {
		case i == 0:
		case len(text)+len(e) > width:
			w.line("%s,", text)
			text = indent
		default:
			text += ", "
		}
		text += e
	}
	w.line("%s}", text)
}

func num(v float64) string            { return strconv.FormatFloat(v, 'g', -1, 64) }
func kv(key string, v float64) string { return key + ": " + num(v) }
func span(s [2]float64) string        { return "[" + num(s[0]) + ", " + num(s[1]) + "]" }

// quoted is a YAML double-quoted scalar; Go's quoting of printable text is valid there.
func quoted(s string) string { return strconv.Quote(s) }

// limb is one limb of a limb-pair.
func limb(l Limb) string {
	over := ""
	if l.Over != "" {
		over = ", over: " + l.Over
	}
	return fmt.Sprintf("{slope_deg: %s, bore_mm: %s%s, scale_zero_height_mm: %s, tap_height_mm: %s, scale_mm: %s}",
		num(l.SlopeDeg.Value), num(l.BoreMm.Value), over, num(l.ScaleZeroHeightMm.Value), num(l.TapHeightMm.Value), span(l.ScaleMm))
}

// pair is a zero or a tie, in full enough digits that the rounding is no error to speak of.
func pair(o Observation, both bool) string {
	high := ""
	if both {
		high = fmt.Sprintf("high_mm: %.4f, ", o.HighMm)
	}
	return fmt.Sprintf("{%slow_mm: %.4f, temperature_c: %.3f}", high, o.LowMm, o.TemperatureC)
}
