package journal

import (
	"testing"
	"time"
)

// Memory holds the newest rows without a hole, not more than its bytes and not those that are too old; what was forgotten or
// never there is not given.
func TestBoundsOfRowsInMemory(t *testing.T) {
	var c recent
	var s state
	now := time.Date(2025, 3, 1, 9, 0, 0, 0, time.UTC)
	add := func(first int64, rows int) {
		t.Helper()
		var b block
		for range rows {
			var err error
			if s.written, err = appendRow(s.written[:0], []any{first, make([]byte, 1000)}); err != nil {
				t.Fatal(err)
			}
			s.lastID = first
			b.add(&s)
			first++
		}
		b.at = now
		c.add(b)
	}
	ids := func(after int64, limit int) (ids []int64) {
		pieces, _ := c.after(after, limit)
		for _, piece := range pieces {
			for row := range wholeRows(piece) {
				ids = append(ids, (&cells{rest: row}).whole())
			}
		}
		return ids
	}
	expect := func(what string, got []int64, first, last int64) {
		t.Helper()
		ok := int64(len(got)) == max(0, last-first+1)
		for k, id := range got {
			ok = ok && id == first+int64(k)
		}
		if !ok {
			t.Errorf("%s: got rows %v, want %d to %d", what, got, first, last)
		}
	}

	add(1, 10)
	add(11, 10)
	add(21, 10)
	expect("over three blocks", ids(4, 20), 5, 24)
	expect("the end of one and the start of the next", ids(18, 4), 19, 22)
	expect("all that is left", ids(27, 100), 28, 30)
	expect("nothing newer", ids(30, 100), 1, 0)
	c.forget(11)
	expect("what is partly forgotten", ids(15, 5), 1, 0)
	expect("what was not", ids(20, 5), 21, 25)
	now = now.Add(recentAge + time.Second)
	add(31, 1)
	expect("too old", ids(29, 5), 1, 0)
	expect("fresh", ids(30, 5), 31, 31)
	add(40, 2)
	expect("before a hole", ids(30, 5), 1, 0)
	expect("after a hole", ids(39, 5), 40, 41)
	for first := int64(42); first < 42+3*recentBytes/1000; first += 100 {
		add(first, 100)
		if held := len(c.blocks) * 100 * 1011; c.bytes > recentBytes || held > recentBytes+100*1011 {
			t.Fatalf("got %d bytes in memory, counted as %d, want at most %d", held, c.bytes, recentBytes)
		}
	}
	if got := len(c.blocks); got < recentBytes/1000/100-2 {
		t.Errorf("got %d blocks in memory, want about %d", got, recentBytes/1000/100)
	}
}
