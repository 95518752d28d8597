package review

import (
	"fmt"
	"strings"
	"time"

	"manobridge/configs"
)

// channels says where each value comes from that a result needs beside the positions, and what holds when it is too old.
func channels(c *configs.Config, in *configs.Instrument) []string {
	out := []string{"liquid temperature " + liquidFrom(in)}
	for _, one := range []struct {
		name, field string
		fixed       *float64
		unit        string
	}{
		{"air temperature", "ambient_c", c.Ambient.TemperatureC, "°C"}, {"air pressure", "pressure_hpa", c.Ambient.PressureHPa, "hPa"},
		{"humidity", "humidity_pct", c.Ambient.RelativeHumidityPct, "%"}, {"tilt", "tilt_deg", in.TiltDeg, "°"},
	} {
		from := c.ChannelOf(in, one.field)
		if one.field == "tilt_deg" && from.From == configs.FromFixed && one.fixed == nil {
			continue // level, as everywhere
		}
		fixed := "0 " + one.unit
		if one.fixed != nil {
			fixed = fmt.Sprintf("%.6g %s", *one.fixed, one.unit)
		}
		out = append(out, one.name+" "+channelFrom(from, in.Offline, fixed))
	}
	return out
}

func channelFrom(from configs.Channel, offline bool, fixed string) string {
	switch {
	case from.From == configs.FromFixed:
		return "fixed at " + fixed
	case from.From == configs.FromFrame && offline:
		return "with each row, else " + fixed
	case from.From == configs.FromFrame:
		return "with each frame"
	case from.WhenOld == configs.OldIsBad:
		return fmt.Sprintf("from %s, at most %s old, else no result", from.From, short(from.MaxAge))
	}
	return fmt.Sprintf("from %s, at most %s old, else %s and uncertain", from.From, short(from.MaxAge), fixed)
}

func liquidFrom(in *configs.Instrument) string {
	t := in.Temperature
	otherwise := "no result"
	if t.FixedC != nil {
		otherwise = fmt.Sprintf("%.6g °C and uncertain", *t.FixedC)
	}
	switch t.From {
	case configs.FromFrame:
		return "with each " + map[bool]string{false: "frame", true: "row"}[in.Offline] + ", else " + otherwise
	case configs.FromFixed:
		return fmt.Sprintf("fixed at %.6g °C", *t.FixedC)
	case configs.FromAmbient:
		return "that of the air"
	}
	return fmt.Sprintf("from %s, at most %s old, else %s", t.From, short(t.MaxAge), otherwise)
}

// averaged says over what results are averaged, empty where every reading is one.
func averaged(in *configs.Instrument) string {
	if in.Average == nil {
		return ""
	}
	return fmt.Sprintf("over %s; uncertain where under %.3g %% of the readings are good", short(in.Average.Window), 100*in.Average.MinGood())
}

// short writes a time without the zeros that say nothing, 5m for 5m0s.
func short(d configs.Duration) string {
	s := time.Duration(d).String()
	if strings.HasSuffix(s, "m0s") {
		s = strings.TrimSuffix(s, "0s")
	}
	if strings.HasSuffix(s, "h0m") {
		s = strings.TrimSuffix(s, "0m")
	}
	return s
}
