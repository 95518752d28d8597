package alarms

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"testing"

	"manobridge/convert"
)

// full is a store of which the disk is full, or is not.
type full struct {
	memory
	is bool
}

func (f *full) Keep(ctx context.Context, name string, value []byte) error {
	if f.is {
		return errors.New("the disk is full")
	}
	return f.memory.Keep(ctx, name, value)
}

// On a full disk an alarm calls as ever. That its state is not kept is said once, not every second of a night, and that it
// is kept again too.
func TestAlarmOnAFullDisk(t *testing.T) {
	h := open(t, low15)
	store := &full{memory: h.store}
	var err error
	h.k, err = New(t.Context(), Options{Limits: h.c.Limits, Converter: func(name string) *convert.Converter { return h.of[name] },
		Bridge: h.c.Bridge, Run: "full", Store: store, Ledger: &h.ledger, Board: &h.board,
		Log: slog.New(slog.NewTextHandler(&h.log, nil))}, h.now())
	if err != nil {
		t.Fatal(err)
	}
	h.holds("filling", 20, 2)
	store.is = true
	h.holds("filling", 10, 10)
	if got := h.state("filling-pressure").State; got != "unacknowledged" {
		t.Errorf("got %s on a full disk, want that it calls", got)
	}
	if n := strings.Count(h.log.String(), "code=limit-not-kept"); n != 1 {
		t.Errorf("got %d lines that the state is not kept in ten seconds, want 1:\n%s", n, h.log.String())
	}
	store.is = false
	h.holds("filling", 10, 2)
	if n := strings.Count(h.log.String(), "code=limit-kept"); n != 1 {
		t.Errorf("got %d lines that the state is kept again, want 1", n)
	}
	if text := fmt.Sprintf("%s", h.store); !strings.Contains(text, `unacknowledged`) {
		t.Errorf("got kept %s, want the alarm that began on the full disk", text)
	}
}
