package diagnose

import (
	"fmt"
	"math"
	"time"

	"manobridge/convert"
)

// level finds a base that stands off where it stood at the zero.
type level struct{ within, zero float64 }

func (d *level) see(r *convert.Result) (string, bool) {
	if !r.Tilt.Set {
		return "", false
	}
	off := float64(r.Tilt.V) - d.zero
	if math.Abs(off) <= d.within {
		return "", true
	}
	return fmt.Sprintf("the base stands %+.3f° off where it stood at the zero; allowed: %.3f°", off*180/math.Pi, d.within*180/math.Pi), true
}

func (*level) finding() (convert.Cause, string) {
	return convert.NotLevel, "level the instrument, then take the zero again"
}

// overdue finds a calibration whose day has passed.
type overdue struct{ due time.Time }

func (d *overdue) see(r *convert.Result) (string, bool) {
	if r.ReceivedAt.Before(d.due) {
		return "", true
	}
	return fmt.Sprintf("the calibration was due on %s", d.due.Format(time.DateOnly)), true
}

func (*overdue) finding() (convert.Cause, string) {
	return convert.CalibrationOverdue, "have it calibrated, then state the new day"
}

const (
	errorsOf    = 1000 // frames looked back
	errorsAbove = 10   // 1 % of them
)

// lineErrors finds a line on which too many frames are refused.
type lineErrors struct {
	bad  [errorsOf]bool
	next int
	n    int // frames seen, up to errorsOf
	sum  int
}

func (d *lineErrors) see(r *convert.Result) (string, bool) {
	bad := false
	if r.Refusal != nil {
		switch r.Refusal.Code {
		case convert.FrameChecksum, convert.FrameFields, convert.FrameFormat, convert.FrameNUL, convert.FrameOverlong, convert.FrameNumber:
			bad = true
		case convert.Silence, convert.PortGone:
			return "", false // no frame
		}
	}
	if d.bad[d.next] {
		d.sum--
	}
	if d.bad[d.next] = bad; bad {
		d.sum++
	}
	d.next = (d.next + 1) % errorsOf
	d.n = min(d.n+1, errorsOf)
	if d.sum <= errorsAbove {
		return "", true
	}
	return fmt.Sprintf("%d of the last %d frames could not be read", d.sum, d.n), true
}

func (*lineErrors) finding() (convert.Cause, string) {
	return convert.LineErrors, "check cable, earthing, baud rate and parity before readings are lost"
}

// settling finds an instrument that was just started.
type settling struct {
	d    time.Duration
	from time.Duration
	has  bool
}

func (d *settling) see(r *convert.Result) (string, bool) {
	if r.Refusal != nil && (r.Refusal.Code == convert.PortGone || r.Refusal.Code == convert.Silence) {
		d.has = false
		return "", false
	}
	if !d.has {
		d.has, d.from = true, r.SinceStart
	}
	if left := d.d - (r.SinceStart - d.from); left > 0 {
		return fmt.Sprintf("heard for %v; believed after %v", (r.SinceStart - d.from).Round(time.Second), d.d), true
	}
	return "", true
}

func (*settling) finding() (convert.Cause, string) {
	return convert.Settling, "wait"
}
