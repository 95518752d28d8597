package listening

import "testing"

// Lines as digitizers send them; how many numbers each holds is seen by eye.
func TestSeparatorOf(t *testing.T) {
	for _, c := range []struct {
		line, separator string
		n               int
	}{
		{"02,75.3,21.4", ",", 3}, {"02 , 75.3, 21.4", ",", 3}, {"02;75,3;21,4", ";", 3}, {"02 75,3 21,4", "whitespace", 3},
		{" 75.3   21.4", "whitespace", 2}, {"02\t75.3", "\t", 2}, {"75.3 mm, 21.4 C", ",", 2}, {"75.3", ",", 1},
	} {
		if s, n := separatorOf([]string{c.line, c.line}); s != c.separator || n != c.n {
			t.Errorf("%q: got %q and %d fields, want %q and %d", c.line, s, n, c.separator, c.n)
		}
	}
}
