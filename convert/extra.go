package convert

// typical is what readings bring with their positions, for a budget that is of no reading.
func (c *Converter) typical() (high, low Extra) {
	if x := c.o.U.High.Extra; x != nil {
		high = x.Typical
	}
	if x := c.o.U.Low.Extra; x != nil {
		low = x.Typical
	}
	return high, low
}

// WithTypical gives the reading what its kind brings with its positions, where nobody has worked that out for it.
func (c *Converter) WithTypical(r Reading) Reading {
	high, low := c.typical()
	if r.HighExtra == (Extra{}) {
		r.HighExtra = high
	}
	if r.LowExtra == (Extra{}) {
		r.LowExtra = low
	}
	return r
}
