package zeroing

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"manobridge/cmd/manobridge/assemble"
	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/quantity"
	"manobridge/publish/journal"
)

// Hash names the zero block of an instrument in the file. Keys that are not stated are not part of it, so that a key that a
// later program knows changes nothing.
func Hash(in *configs.Instrument) string {
	text := "no zero"
	if z := in.Zero; z != nil {
		text = "zero"
		for _, k := range []struct {
			key string
			v   *float64
		}{{"high_mm", z.HighMM}, {"low_mm", z.LowMM}, {"reading", z.Reading}, {"temperature_c", z.TemperatureC}, {"tilt_deg", z.TiltDeg}} {
			if k.v != nil {
				text += " " + k.key + "=" + strconv.FormatFloat(*k.v, 'g', -1, 64)
			}
		}
		if d := z.Date.String(); d != "" {
			text += " date=" + d
		}
	}
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:8])
}

// Held is a zero that was taken on an instrument and not dropped.
type Held struct {
	journal.ZeroTaken
	// FileChanged tells that the zero in the file was changed since: the file holds, and this one does not.
	FileChanged bool
}

// String says which zero holds, for a person.
func (h *Held) String() string {
	when := h.Time.UTC().Format(time.RFC3339)
	if h.FileChanged {
		return fmt.Sprintf("the zero in the file was changed after a zero was taken %s by %s; the file holds", when, h.Who)
	}
	return fmt.Sprintf("zero taken %s by %s overrides the file (%s)", when, h.Who, h.Why)
}

// Of gives the latest zero of each instrument that was taken and not dropped, by name.
func Of(c *configs.Config, zeros []journal.ZeroTaken) map[string]*Held {
	out := map[string]*Held{}
	for _, z := range zeros { // the oldest first
		if in := assemble.Instrument(c, z.Instrument); in != nil && z.Dropped.IsZero() {
			out[z.Instrument] = &Held{ZeroTaken: z, FileChanged: z.FileZeroHash != Hash(in)}
		}
	}
	return out
}

// Apply gives a configuration in which the zeros that were taken stand in the place of those in the file. The one given
// is not changed.
func Apply(c *configs.Config, held map[string]*Held) (*configs.Config, error) {
	if len(held) == 0 {
		return c, nil
	}
	out := *c
	out.Instruments = slices.Clone(c.Instruments)
	for i := range out.Instruments {
		h := held[out.Instruments[i].Name]
		if h == nil || h.FileChanged {
			continue
		}
		in, err := With(c, &out.Instruments[i], &h.ZeroTaken)
		if err != nil {
			return nil, err
		}
		out.Instruments[i] = *in
	}
	return &out, nil
}

// Load reads the zeros that were taken from the journal of a configuration, and applies them. Where there is no journal yet
// there are none.
func Load(ctx context.Context, c *configs.Config) (*configs.Config, map[string]*Held, error) {
	if _, err := os.Stat(c.Journal.Path); errors.Is(err, fs.ErrNotExist) {
		return c, nil, nil
	}
	r, err := journal.OpenReader(ctx, c.Journal.Path)
	if err != nil {
		return nil, nil, fmt.Errorf("read the zeros that were taken: %w", err)
	}
	zeros, err := r.Zeros(ctx, "")
	if err = errors.Join(err, r.Close()); err != nil {
		return nil, nil, fmt.Errorf("read the zeros that were taken: %w", err)
	}
	held := Of(c, zeros)
	with, err := Apply(c, held)
	return with, held, err
}

// With gives the instrument with a zero that was taken in the place of its own. The uncertainty of each position of the
// zero is that stated for it in the file and that of the mean together, with the degrees of freedom of JCGM 100:2008, G.4.1.
func With(c *configs.Config, in *configs.Instrument, z *journal.ZeroTaken) (*configs.Instrument, error) {
	stated, err := assemble.Options(c, in)
	if err != nil {
		return nil, err
	}
	out := *in
	c0 := z.Temperature.V.V.Celsius()
	zero := &configs.Zero{TemperatureC: &c0, Date: configs.Date{Time: z.Time.UTC().Truncate(24 * time.Hour)}}
	if z.Tilt.Set {
		tilt := z.Tilt.V.Degrees()
		zero.TiltDeg = &tilt
	}
	limb := func(own *configs.LimbUncertainty, taken journal.Uncertain[quantity.Length], of convert.Stated[quantity.Length]) (*float64, *configs.LimbUncertainty) {
		if !taken.V.Set {
			return nil, own
		}
		mm := taken.V.V.Millimetres()
		u, dof := together(float64(of.U), of.DOF, taken.U, z.N)
		u *= 1000
		with := configs.LimbUncertainty{}
		if own != nil {
			with = *own
		}
		with.ZeroMM, with.DOF = &u, withDOF(with.DOF, "zero_mm", dof)
		return &mm, &with
	}
	zero.HighMM, out.Uncertainty.High = limb(in.Uncertainty.High, z.High, ofScale(&stated.U.High))
	zero.LowMM, out.Uncertainty.Low = limb(in.Uncertainty.Low, z.Low, ofScale(&stated.U.Low))
	if z.Indicated.V.Set && stated.Engraved != nil {
		v, of := z.Indicated.V.V, ofScale(&stated.U.Low)
		u, dof := together(float64(of.U)/stated.Engraved.PerUnit, of.DOF, z.Indicated.U, z.N)
		zero.Reading, out.Uncertainty.ZeroReading = &v, &u
		out.Uncertainty.DOF = withDOF(in.Uncertainty.DOF, "zero_reading", dof)
	}
	if in.Zero != nil { // a limb of two that was not read keeps what the file says of it
		if zero.HighMM == nil {
			zero.HighMM = in.Zero.HighMM
		}
		if zero.LowMM == nil {
			zero.LowMM = in.Zero.LowMM
		}
	}
	out.Zero = zero
	return &out, nil
}

// ofScale is the uncertainty of a position of the zero beside that of the mean. One that is not stated is that of every
// position; what a signal adds is not in it, as the mean has that.
func ofScale(u *convert.LimbUncertainties) convert.Stated[quantity.Length] {
	if u.Zero.Assumed {
		return u.Position
	}
	return u.Zero
}

// together joins the stated uncertainty of a zero position and that of the mean of n readings.
func together(stated, statedDOF, mean float64, n int) (u, dof float64) {
	u = math.Hypot(stated, mean)
	w := 0.0
	if statedDOF > 0 {
		w += math.Pow(stated, 4) / statedDOF
	}
	if mean > 0 && n > 1 {
		w += math.Pow(mean, 4) / float64(n-1)
	}
	if w > 0 {
		dof = math.Pow(u, 4) / w
	}
	return u, dof
}

// withDOF sets one entry in a copy; 0, which means infinite, takes it away.
func withDOF(m map[string]float64, key string, dof float64) map[string]float64 {
	out := maps.Clone(m)
	if dof == 0 {
		delete(out, key)
		return out
	}
	if out == nil {
		out = map[string]float64{}
	}
	out[key] = dof
	return out
}

// Notes says for each instrument which zero holds where one was taken, in the order of the names.
func Notes(held map[string]*Held) string {
	var lines []string
	for _, name := range slices.Sorted(maps.Keys(held)) {
		lines = append(lines, name+": "+held[name].String())
	}
	return strings.Join(lines, "\n")
}
