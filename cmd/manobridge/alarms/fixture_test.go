package alarms

import (
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"maps"
	"strings"
	"testing"
	"time"

	"manobridge/cmd/manobridge/assemble"
	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/alarm"
	"manobridge/convert/quantity"
	"manobridge/publish"
)

// suite is two reservoir manometers, with limits as a person writes them.
const suite = `site: packing-hall
bridge: suite-3
location: {gravity_m_s2: 9.80715, gravity_u_m_s2: 0}
ambient: {temperature_c: 20.0, pressure_hpa: 955.0, relative_humidity_pct: 45}
ports:
  suite: {device: /dev/ttyUSB0, baud: 19200, frame: {format: delimited, fields: [address, low_mm, temperature_c]}}
  doors: {device: /dev/ttyUSB1, baud: 19200, frame: {format: delimited, fields: [contact, ambient_c]}}
instruments:
  filling: {port: suite, address: "1", liquid: "lubricating-oil:850", geometry: {kind: inclined-reservoir, slope_ratio: 0.1, bore_mm: 3.5, reservoir_bore_mm: 60.0, scale_mm: [-30, 320]}, zero: {low_mm: 0, temperature_c: 20.0}}
  airlock: {port: suite, address: "2", liquid: "lubricating-oil:850", geometry: {kind: inclined-reservoir, slope_ratio: 0.1, bore_mm: 3.5, reservoir_bore_mm: 60.0, scale_mm: [-30, 320]}, zero: {low_mm: 0, temperature_c: 20.0}}
stations:
  contacts: {port: doors}
limits:
`

// hall is a keeper with a store that outlives it and a clock that the test moves.
type hall struct {
	t      testing.TB
	c      *configs.Config
	of     map[string]*convert.Converter
	store  memory
	ledger book
	board  board
	log    strings.Builder
	k      *Keeper
	run    int
	wall   time.Time
	mono   time.Duration
}

func open(t testing.TB, limits string) *hall {
	t.Helper()
	c, err := configs.Parse("hall", []byte(suite+limits), configs.Options{})
	if err != nil {
		t.Fatal(err)
	}
	h := &hall{t: t, c: c, of: map[string]*convert.Converter{}, store: memory{}, wall: time.Date(2026, 3, 1, 8, 0, 0, 0, time.UTC)}
	for i := range c.Instruments {
		in := &c.Instruments[i]
		if h.of[in.Name], err = assemble.Converter(c, in); err != nil {
			t.Fatal(err)
		}
	}
	h.start()
	return h
}

// start begins a run: what was not kept is gone, as after kill -9.
func (h *hall) start() {
	h.t.Helper()
	h.run++
	h.mono = 0
	h.board = board{states: map[string]state{}}
	var err error
	h.k, err = New(context.Background(), Options{Limits: h.c.Limits, Converter: func(name string) *convert.Converter { return h.of[name] },
		Bridge: h.c.Bridge, Run: fmt.Sprintf("r%d", h.run), Store: h.store, Ledger: &h.ledger, Board: &h.board,
		Log: slog.New(slog.NewTextHandler(&h.log, nil))}, h.now())
	if err != nil {
		h.t.Fatal(err)
	}
}

func (h *hall) now() Now { return Now{Wall: h.wall, Mono: h.mono} }

func (h *hall) pass(d time.Duration) { h.wall, h.mono = h.wall.Add(d), h.mono+d }

// reads gives a reading of an instrument, its column at so many mm along the tube.
func (h *hall) reads(instrument string, mm float64) {
	h.t.Helper()
	res := h.of[instrument].Convert(convert.Reading{Name: convert.Name{Run: "r", Instrument: instrument, Seq: 1}, ReceivedAt: h.wall, SinceStart: h.mono,
		Low: convert.Some(quantity.Millimetres(mm)), Temperature: convert.Some(quantity.Celsius(20))})
	h.k.See(context.Background(), &res, h.now())
}

// silent is what the bridge makes of an instrument that is not heard.
func (h *hall) silent(instrument string) {
	res := h.of[instrument].Convert(convert.Reading{Name: convert.Name{Run: "r", Instrument: instrument, Seq: 1}, ReceivedAt: h.wall, SinceStart: h.mono,
		Refusal: &convert.Refusal{Code: convert.Silence, Field: "instrument", Seen: "was silent"}})
	h.k.See(context.Background(), &res, h.now())
}

// holds gives the same reading each second.
func (h *hall) holds(instrument string, mm float64, seconds int) {
	h.reads(instrument, mm)
	for range seconds {
		h.pass(time.Second)
		h.reads(instrument, mm)
		h.k.Tick(context.Background(), h.now())
	}
}

func (h *hall) state(limit string) state { return h.board.states[limit] }

// asks makes a request that holds for a minute.
func (h *hall) asks(limit, id, act string, change func(*Request)) publish.AlarmReply {
	r := Request{Limit: limit, User: "anna", AlarmRequest: publish.AlarmRequest{ID: id, Act: act, Why: "seen at the door", Until: h.wall.Add(time.Minute)}}
	if change != nil {
		change(&r)
	}
	answer, _ := h.k.Do(context.Background(), r, h.now())
	return answer
}

type memory map[string][]byte

func (m memory) Keep(_ context.Context, name string, value []byte) error { m[name] = value; return nil }

func (m memory) Kept(_ context.Context, name string) ([]byte, bool, error) {
	v, ok := m[name]
	return v, ok, nil
}

func (m memory) copy() memory { return maps.Clone(m) }

type book struct{ pages []alarm.Excursion }

func (b *book) BeginExcursion(_ context.Context, e alarm.Excursion) (int64, error) {
	b.pages = append(b.pages, e)
	return int64(len(b.pages)), nil
}

func (b *book) UpdateExcursion(_ context.Context, id int64, e alarm.Excursion) error {
	b.pages[id-1] = e
	return nil
}

// state is a retained message as a subscriber reads it.
type state struct {
	Limit, State, Verdict, Fault, Why, Priority, Class string
	Door                                               string
	HeldOpen                                           string `json:"held_open"`
	Occurrence                                         uint64
	First                                              bool
	ValuePa                                            *float64 `json:"value_pa"`
	UPa                                                *float64 `json:"expanded_uncertainty_pa"`
	LowPa                                              *float64 `json:"low_pa"`
	ShelvedLeft                                        float64  `json:"shelved_left_s"`
}

// board is what a subscriber would see.
type board struct {
	states map[string]state
	events []publish.AlarmEvent
}

func (b *board) AlarmState(limit string, message []byte) {
	var s state
	if err := json.Unmarshal(message, &s); err != nil {
		panic(err) // in a test: the message is no JSON
	}
	b.states[limit] = s
}

func (b *board) AlarmEvent(e publish.AlarmEvent) { b.events = append(b.events, e) }

// heard lists the events as "alarm previous>state cause".
func (b *board) heard() (out []string) {
	for _, e := range b.events {
		out = append(out, fmt.Sprintf("%s %s>%s %s", e.Alarm, e.Previous, e.State, e.Cause))
	}
	return out
}
