package simulate

import (
	"math"
	"sync"
)

// Ledger keeps account of every frame that went onto a line and pairs each reading the bridge delivers with the truth
// behind it. Safe for concurrent use. Memory is bounded: of each instrument it holds the last keepFrames frames that
// no reading has been paired with; older ones are counted as unpaired.
type Ledger struct {
	mu      sync.Mutex
	fates   [fates]int
	bytes   int64
	waiting map[string][]Frame
	account Account
}

const keepFrames = 20000

// Account is what a ledger adds up to.
type Account struct {
	Written map[string]int // frames by fate, in the words of Fate; only those that occurred
	Bytes   int64
	Due     int // readings that must come of them

	Paired     int // readings paired with their frame
	Missing    int // frames passed over: a later reading of the instrument came first
	Unexpected int // readings that no frame written explains
	Waiting    int // readings still due

	WithValue int     // paired readings that had a pressure
	Within    int     // of those: the truth lies within the expanded uncertainty
	SumSquare float64 // sum of ((value − truth) / u_c)² over those; near their number when the uncertainty is honest
}

// NewLedger makes an empty ledger.
func NewLedger() *Ledger { return &Ledger{waiting: map[string][]Frame{}} }

// Sending enters a frame that goes onto its line. It is entered before it is sent: the bridge may have the reading before
// the sender is told that the line took it.
func (l *Ledger) Sending(f Frame) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.fates[f.Fate]++
	l.bytes += int64(len(f.Bytes))
	f.Bytes = nil
	w := l.waiting[f.Instrument]
	for range f.Fate.Readings() {
		l.account.Due++
		w = append(w, f)
	}
	if over := len(w) - keepFrames; over > 0 {
		l.account.Missing += over
		w = append(w[:0:0], w[over:]...)
	}
	if len(w) > 0 {
		l.waiting[f.Instrument] = w
	}
}

// Withdraw takes back the frame an instrument sent last, because the line did not take it.
func (l *Ledger) Withdraw(f Frame) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.fates[f.Fate]--
	l.bytes -= int64(len(f.Bytes))
	n := f.Fate.Readings()
	l.account.Due -= n
	w := l.waiting[f.Instrument]
	l.waiting[f.Instrument] = w[:max(0, len(w)-n)]
}

// Delivered is a reading as the bridge gave it out.
type Delivered struct {
	Instrument  string
	Frame       string // the raw frame, without its line end
	HasPressure bool
	PressurePa  float64
	CombinedPa  float64 // u_c
	ExpandedPa  float64 // U
}

// Delivered enters a reading and gives the frame it came of; false where none explains it. Readings of one instrument
// must come in order: what is passed over counts as missing.
func (l *Ledger) Delivered(d Delivered) (Frame, bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	w := l.waiting[d.Instrument]
	for i := range w {
		if w[i].Text != d.Frame {
			continue
		}
		f := w[i]
		l.account.Missing += i
		l.waiting[d.Instrument] = w[i+1:]
		l.account.Paired++
		if d.HasPressure {
			l.account.WithValue++
			off := d.PressurePa - f.PressurePa
			if math.Abs(off) <= d.ExpandedPa {
				l.account.Within++
			}
			if d.CombinedPa > 0 {
				l.account.SumSquare += off / d.CombinedPa * (off / d.CombinedPa)
			}
		}
		return f, true
	}
	l.account.Unexpected++
	return Frame{}, false
}

// Account adds up what was entered so far.
func (l *Ledger) Account() Account {
	l.mu.Lock()
	defer l.mu.Unlock()
	a := l.account
	a.Written = map[string]int{}
	for f, n := range l.fates {
		if n > 0 {
			a.Written[Fate(f).String()] = n
		}
	}
	a.Bytes = l.bytes
	for _, w := range l.waiting {
		a.Waiting += len(w)
	}
	return a
}
