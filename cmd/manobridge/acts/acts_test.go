package acts

import (
	"context"
	"encoding/hex"
	"fmt"
	"iter"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"manobridge/publish/journal"
)

const wantHash = "f76aa2d03636effca6e48721b4ce5faaaa4ca483aeb5241f7d92038dbf5b26ad"

func chain(n int) []journal.Act {
	var out []journal.Act
	var prev journal.Act
	for i := range n {
		prev = Seal(prev, journal.Act{ID: int64(i + 1), Time: time.Unix(int64(1_770_000_000+i), 500), Who: []string{"anna", "ben"}[i%2], What: "acknowledge",
			Subject: "filling-pressure", Old: "unacknowledged", New: "acknowledged", Why: fmt.Sprintf("reason %d", i)})
		out = append(out, prev)
	}
	return out
}

func each(acts []journal.Act) iter.Seq2[journal.Act, error] {
	return func(yield func(journal.Act, error) bool) {
		for _, a := range acts {
			if !yield(a, nil) {
				return
			}
		}
	}
}

// The hash of an entry, worked out by another program: python3, hashlib.sha256 over the same bytes put together by hand.
func TestHashByAnotherProgram(t *testing.T) {
	a := Seal(journal.Act{}, journal.Act{Time: time.Unix(1_770_000_000, 5), Who: "anna", What: "acknowledge", Subject: "filling-pressure",
		Old: "unacknowledged", New: "acknowledged", Why: "seen at the door"})
	if got := hex.EncodeToString(a.Hash); got != wantHash {
		t.Errorf("got %s, want %s", got, wantHash)
	}
}

// Every single entry of ten thousand altered, removed, or swapped with its neighbour.
func TestEverySingleChangeIsFound(t *testing.T) {
	acts := chain(10_000)
	whole, err := Verify(each(acts), nil)
	if err != nil || whole.Problem != "" || whole.Count != 10_000 {
		t.Fatalf("got %+v, %v, want the whole chain sound", whole, err)
	}
	anchor := whole.Anchor
	// The walk up to the place is the same each time, so it is made once: what follows is walked from the entry before.
	rest := func(i int, changed []journal.Act) string {
		var prev []byte
		if i > 0 {
			prev = acts[i-1].Hash
		}
		for k := range changed {
			if problem := follows(prev, &changed[k]); problem != "" {
				return problem
			}
			prev = changed[k].Hash
		}
		if i+len(changed) < 10_000 || hex.EncodeToString(prev) != anchor.Head {
			return "not the anchored end"
		}
		return ""
	}
	for i := range acts {
		after := acts[i+1 : min(i+3, len(acts))]
		for name, change := range map[string]func(*journal.Act){
			"who": func(a *journal.Act) { a.Who += "x" }, "why": func(a *journal.Act) { a.Why = "" }, "time": func(a *journal.Act) { a.Time = a.Time.Add(1) },
			"a letter moved":  func(a *journal.Act) { a.Old, a.New = a.Old+a.New[:1], a.New[1:] },
			"hash":            func(a *journal.Act) { a.Hash = slices.Clone(a.Hash); a.Hash[7] ^= 1 },
			"altered, sealed": func(a *journal.Act) { a.New = "normal"; *a = Seal(journal.Act{Hash: a.PrevHash}, *a) },
		} {
			one := acts[i]
			change(&one)
			if i == len(acts)-1 && name == "altered, sealed" {
				if r, _ := Verify(each(append(slices.Clone(acts[:i]), one)), &anchor); r.Problem == "" {
					t.Errorf("the last entry written anew is not found against the anchor")
				}
				continue
			}
			if rest(i, append([]journal.Act{one}, after...)) == "" {
				t.Errorf("entry %d with its %s changed is not found", i+1, name)
			}
		}
		if rest(i, after) == "" {
			t.Errorf("entry %d removed is not found", i+1)
		}
		if i+1 < len(acts) && rest(i, append([]journal.Act{acts[i+1], acts[i]}, acts[i+2:min(i+4, len(acts))]...)) == "" {
			t.Errorf("entries %d and %d swapped are not found", i+1, i+2)
		}
	}
	// The tail cut, whole chains walked: found against the anchor and not without.
	for _, n := range []int{0, 1, 5000, 9_999} {
		if r, _ := Verify(each(acts[:n]), &anchor); r.Problem == "" {
			t.Errorf("a chain cut to %d entries is not found against the anchor", n)
		}
		if r, _ := Verify(each(acts[:n]), nil); r.Problem != "" {
			t.Errorf("got %q, want the limit of a chain without an anchor as stated", r.Problem)
		}
	}
	// A chain that went on since it was anchored is sound; one written anew is not.
	if r, _ := Verify(each(acts), &Anchor{Count: 500, Head: hex.EncodeToString(acts[499].Hash)}); r.Problem != "" {
		t.Errorf("got %q, want an older anchor met", r.Problem)
	}
	other := chain(10_001)[1:]
	if r, _ := Verify(each(other), nil); r.Problem == "" {
		t.Error("a chain without its first entry is not found")
	}
}

func TestChainInTheJournal(t *testing.T) {
	ctx := t.Context()
	j, err := journal.Open(ctx, journal.Options{Path: filepath.Join(t.TempDir(), "acts.db"), Run: "r1", Bridge: "b"})
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := j.Close(); err != nil {
			t.Error(err)
		}
	}()
	for i := range 20 {
		if _, err := j.AppendAct(context.Background(), func(prev journal.Act) journal.Act {
			return Seal(prev, journal.Act{Time: time.Unix(1_770_000_000, int64(i)), Who: "anna", What: "shelve", Subject: "filling-pressure", Why: "test"})
		}); err != nil {
			t.Fatal(err)
		}
	}
	r, err := Verify(j.Acts(ctx, 0), nil)
	if err != nil || r.Problem != "" || r.Count != 20 {
		t.Errorf("got %+v, %v, want 20 entries read back whole", r, err)
	}
}
