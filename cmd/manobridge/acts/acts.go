// Package acts keeps the record of what people did to a bridge: who, when, what, the old, the new, and why. Entries are
// chained by their hashes, so that one altered, removed or moved afterwards is found.
//
// The chain cannot find a cut tail by itself, nor a whole chain written anew. Against the first its head and count are
// anchored elsewhere, on a retained topic and in the log; whoever rewrites the chain and every anchor together cannot be
// found out by it. The package computes and reads; the journal keeps.
package acts

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"iter"
	"time"

	"manobridge/publish/journal"
)

// form begins what is hashed, so that no other use of the hash gives the same.
const form = "manobridge act 1"

// Seal chains an entry to the one before it.
//
// The hash is SHA-256 (FIPS 180-4) over the form, the hash before, the time in ns since 1970 UTC and the texts, each with its
// length before it, so that no letter can move from one to the next.
func Seal(prev, a journal.Act) journal.Act {
	a.PrevHash = prev.Hash
	a.Hash = hash(&a)
	return a
}

func hash(a *journal.Act) []byte {
	h := sha256.New()
	put := func(b []byte) {
		var n [binary.MaxVarintLen64]byte
		h.Write(n[:binary.PutUvarint(n[:], uint64(len(b)))])
		h.Write(b)
	}
	put([]byte(form))
	put(a.PrevHash)
	put(binary.BigEndian.AppendUint64(nil, uint64(a.Time.UnixNano())))
	for _, text := range []string{a.Who, a.What, a.Subject, a.Old, a.New, a.Why} {
		put([]byte(text))
	}
	return h.Sum(nil)
}

// Anchor is the head of a chain, kept where who changes the chain does not reach.
type Anchor struct {
	Count int64     `json:"count"`
	Head  string    `json:"head"` // hexadecimal; empty for an empty chain
	Time  time.Time `json:"time,omitzero"`
}

// Report is what Verify found.
type Report struct {
	Anchor         // of what is there now, without a time
	Problem string // the first; empty where the chain is whole
	At      int64  // which entry it is about, counted from 1; 0 where it is about none
}

// Verify walks the chain from its start. anchor, where not nil, must be one of this chain: its entry must still be there.
// The error is one of reading.
func Verify(entries iter.Seq2[journal.Act, error], anchor *Anchor) (Report, error) {
	var r Report
	var prev []byte
	anchored := anchor == nil || anchor.Count == 0
	for a, err := range entries {
		if err != nil {
			return r, err
		}
		r.Count++
		if problem := follows(prev, &a); problem != "" {
			r.Problem, r.At = fmt.Sprintf("entry %d %s", r.Count, problem), r.Count
			return r, nil
		}
		prev = a.Hash
		if anchor != nil && r.Count == anchor.Count {
			if hex.EncodeToString(prev) != anchor.Head {
				r.Problem, r.At = fmt.Sprintf("entry %d is not the one that was anchored: the chain was written anew", r.Count), r.Count
				return r, nil
			}
			anchored = true
		}
	}
	r.Head = hex.EncodeToString(prev)
	if !anchored {
		r.Problem = fmt.Sprintf("the chain ends after %d entries, and %d were anchored: its end was cut off", r.Count, anchor.Count)
	}
	return r, nil
}

// follows says why an entry does not follow from the hash before it; empty where it does.
func follows(prev []byte, a *journal.Act) string {
	switch {
	case string(a.PrevHash) != string(prev):
		return "does not follow from the one before it: something was removed, added or moved there"
	case string(hash(a)) != string(a.Hash):
		return "was altered"
	}
	return ""
}
