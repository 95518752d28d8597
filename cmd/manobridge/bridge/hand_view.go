package bridge

import (
	"context"
	"time"

	"manobridge/cmd/manobridge/operate/control"
	"manobridge/convert"
	"manobridge/convert/quantity"
)

// View is how a bridge stands at one moment, for a person who looks.
type View struct {
	Time    time.Time `json:"time"`
	Site    string    `json:"site"`
	Bridge  string    `json:"bridge"`
	Run     string    `json:"run"`
	Started time.Time `json:"started"`
	Counts  Counts    `json:"counts"`

	Instruments []InstrumentView `json:"instruments"`
	Ports       []PortView       `json:"ports"`
	Sinks       []Delivery       `json:"sinks"`
	Journal     JournalView      `json:"journal"`
}

// InstrumentView is what was last heard of one instrument. What does not exist is left out.
type InstrumentView struct {
	Instrument   string          `json:"instrument"`
	Seq          uint64          `json:"seq,omitempty"` // 0: nothing was heard yet
	Time         time.Time       `json:"time,omitzero"`
	PressurePa   *float64        `json:"pressure_pa,omitempty"`
	ExpandedPa   *float64        `json:"expanded_uncertainty_pa,omitempty"`
	HeadMM       *float64        `json:"head_mm,omitempty"`
	HighMM       *float64        `json:"high_mm,omitempty"`
	LowMM        *float64        `json:"low_mm,omitempty"`
	TemperatureC *float64        `json:"temperature_c,omitempty"`
	Status       string          `json:"status,omitempty"`
	NE107        string          `json:"ne107,omitempty"`
	Causes       []convert.Cause `json:"causes,omitempty"`
	Reason       string          `json:"reason,omitempty"` // why there is no value
	LastGood     time.Time       `json:"last_good,omitzero"`
	Config       string          `json:"config"`
	Service      *Service        `json:"service,omitempty"`
}

// PortView is how one port stands.
type PortView struct {
	Port    string `json:"port"`
	Open    bool   `json:"open"`
	Frames  uint64 `json:"frames"`
	Good    uint64 `json:"good"`
	Refused uint64 `json:"refused"` // frames, not silences
	Losses  uint64 `json:"losses"`
}

// JournalView is how the journal stands.
type JournalView struct {
	Path    string `json:"path"`
	Rows    int64  `json:"rows"`
	Waiting int    `json:"waiting"`
	Lost    int64  `json:"lost"`
	Full    string `json:"full,omitempty"`
}

// view answers the request "view".
func (b *Bridge) view(ctx context.Context, _ control.Request) control.Answer {
	c := b.Config()
	v := View{Time: b.clock.Now().UTC(), Site: c.Site, Bridge: c.Bridge, Run: b.run, Started: b.started.UTC(),
		Counts: b.Counts(), Sinks: b.Deliveries(), Ports: b.portViews()}
	st := b.journal.Stats()
	v.Journal = JournalView{Path: b.journal.Path(), Rows: st.Rows, Waiting: st.Waiting, Lost: st.Lost}
	if st.Full != nil {
		v.Journal.Full = st.Full.Error()
	}
	err := b.inLoop(ctx, func() {
		for i := range c.Instruments {
			if in := &c.Instruments[i]; !in.Offline {
				v.Instruments = append(v.Instruments, b.instrumentView(in.Name))
			}
		}
	})
	if err != nil {
		return stopped(err)
	}
	return control.Done("", v)
}

func (b *Bridge) instrumentView(name string) InstrumentView {
	v := InstrumentView{Instrument: name}
	if in := b.instruments[name]; in != nil {
		v.Config = in.set.Hash
	}
	if s := b.hand.serviced[name]; s != nil {
		was := s.Service
		v.Service = &was
	}
	l := b.hand.latest[name]
	if l == nil {
		return v
	}
	r := &l.result
	v.Seq, v.Time, v.LastGood = r.Seq, r.ReceivedAt.UTC(), l.good
	v.Status, v.NE107, v.Causes = r.Status.String(), string(r.NE107), append([]convert.Cause(nil), r.Causes...)
	if r.Refusal != nil {
		v.Reason = r.Refusal.Error()
	}
	if pa, ok := r.Pressure(); ok {
		u := r.ExpandedU
		v.PressurePa, v.ExpandedPa = &pa, &u
	}
	if r.Temperature.Set {
		c := r.Temperature.V.Celsius()
		v.TemperatureC = &c
	}
	v.HeadMM, v.HighMM, v.LowMM = millimetres(r.Head), millimetres(r.High), millimetres(r.Low)
	return v
}

func (b *Bridge) portViews() []PortView {
	var out []PortView
	for _, s := range b.Sources() {
		st := s.Stats()
		p := PortView{Port: st.Port, Open: st.Open, Frames: st.Frames, Good: st.Good, Losses: st.Losses}
		for _, m := range []map[convert.Cause]uint64{st.Refused, st.Unattributed} {
			for c, n := range m {
				if c != convert.Silence && c != convert.PortGone {
					p.Refused += n
				}
			}
		}
		out = append(out, p)
	}
	return out
}

func millimetres(o convert.Optional[quantity.Length]) *float64 {
	if !o.Set {
		return nil
	}
	mm := o.V.Millimetres()
	return &mm
}
