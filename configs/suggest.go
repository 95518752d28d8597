package configs

import (
	"slices"
	"strings"
)

// distance is the number of single-character edits between two words, a swap of neighbours counting as one.
// It is the restricted Damerau-Levenshtein distance (F. J. Damerau, Communications of the ACM 7 (1964) 171).
func distance(a, b string) int {
	before, last, this := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(a); i++ {
		this[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			this[j] = min(last[j]+1, this[j-1]+1, last[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				this[j] = min(this[j], before[j-2]+1)
			}
		}
		before, last, this = last, this, before
	}
	return last[len(b)]
}

// longestWord bounds what is compared; no word of ours is longer.
const longestWord = 40

// nearest gives the word most like s, empty where none is near.
func nearest(s string, words []string) string {
	if len(s) > longestWord {
		return ""
	}
	plain := plainWord(s)
	best, bestAt := "", 1+max(1, len(plain)/3)
	for _, w := range words {
		if d := distance(plain, plainWord(w)); d < bestAt {
			best, bestAt = w, d
		}
	}
	if base := baseOf(plain); best == "" && len(base) >= 3 { // shortened, as temp_c for temperature_c
		i := slices.IndexFunc(words, func(w string) bool { return strings.HasPrefix(baseOf(plainWord(w)), base) })
		if i >= 0 {
			return words[i]
		}
	}
	return best
}

// plainWord drops what people vary in a word: case, hyphens, blanks.
func plainWord(s string) string {
	return strings.NewReplacer("-", "_", " ", "_").Replace(strings.ToLower(s))
}

// meant gives the keys that were probably meant by one that does not exist, and whether it was a quantity written
// without its unit or in another one.
func meant(key string, known []string) (keys []string, unitMatter bool) {
	plain := plainWord(key)
	for _, k := range known {
		if plain == k {
			return []string{k}, false
		}
	}
	base := baseOf(plain)
	for _, k := range known {
		if unitOf(k) != "" || strings.HasSuffix(k, "_ratio") {
			if b := baseOf(k); b == base || b == plain {
				keys = append(keys, k)
			}
		}
	}
	if len(keys) > 0 {
		return keys, true
	}
	if k := nearest(key, known); k != "" {
		return []string{k}, false
	}
	// One word of a longer key, as expansion for expansion_per_k: only where a single key has it.
	if len(plain) >= 4 {
		for _, k := range known {
			if strings.HasPrefix(k, plain) {
				keys = append(keys, k)
			}
		}
		if len(keys) > 3 {
			keys = nil
		}
	}
	return keys, false
}

// secretWords are keys people put a secret under.
var secretWords = []string{"password", "passwd", "pass", "passphrase", "token", "secret", "api_key", "apikey", "access_token"}

// isSecretWord tells whether a key looks as if its value were a secret.
func isSecretWord(key string) bool { return slices.Contains(secretWords, plainWord(key)) }

// cutStroke splits a pair joined by a stroke.
func cutStroke(s string) (a, b string, pair bool) { return strings.Cut(s, "|") }
