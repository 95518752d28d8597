package configs

// Average makes one result of the readings of a window. The readings themselves are kept in the journal as samples.
type Average struct {
	// Window is the shortest span of an average: the first reading that is so long after the first of the window ends it.
	// Many times the time over which readings are alike, or the uncertainty of the mean cannot be told from them.
	Window Duration `yaml:"window" range:"[1s,1h]" needed:"true"`
	// MinGoodFraction is the share of good readings, 0 to 1, under which an average is uncertain.
	MinGoodFraction *float64 `yaml:"min_good_fraction" range:"[0,1]"`
}

// MinGood is the share that holds: as stated, else 0.8.
func (a *Average) MinGood() float64 {
	if a.MinGoodFraction == nil {
		return 0.8
	}
	return *a.MinGoodFraction
}
