package mqtt

import "time"

// flow is how many messages of one lane may be under way. It opens while answers come soon and closes where they take long,
// so that a fast broker never waits for the next message, and what is under way to a slow one is little: a live value
// behind it would be old by the time it arrives.
type flow struct {
	most       int           // of size
	soon, long time.Duration // of an answer

	size    int
	answers int // since size last became smaller
}

// leastFlow is how small a flow becomes, and begins.
const leastFlow = 32

func newFlow(most int, soon, long time.Duration) *flow {
	return &flow{most: most, soon: soon, long: long, size: min(leastFlow, most)}
}

// answered takes note of an answer that came after a time, and how many messages were under way. Answers to what was sent
// before the flow became smaller say nothing of the smaller one.
func (f *flow) answered(after time.Duration, under int) {
	f.answers++
	switch {
	case after <= f.soon:
		if 2*under >= f.size { // else it was not the flow that held anything up
			f.size = min(f.size+1, f.most)
		}
	case after > f.long && f.answers > f.size:
		f.size, f.answers = max(f.size/2, min(leastFlow, f.most)), 0
	}
}
