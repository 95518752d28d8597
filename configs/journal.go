package configs

// Journal is the file that keeps every result until it has been delivered, and its history for some time after.
type Journal struct {
	// Path of the journal file. A relative path counts from the directory the bridge is started in.
	Path string `yaml:"path"`
	// Durability strict: on disk before it counts as kept, even through a power cut. Relaxed: a power cut may lose the
	// last moments, a crash of the bridge may not.
	Durability string `yaml:"durability" enum:"strict|relaxed"`
	// KeepDays is for how many days results stay after they were read; 0: for ever. What a sink has not got stays
	// longer.
	KeepDays int `yaml:"keep_days" range:"[0,36500]"`
	// KeepSizeMB bounds the file, in MB; 0: no bound. It holds even where a sink has not got what must go: that is then
	// recorded as a gap and reported as an error.
	KeepSizeMB int `yaml:"keep_size_mb" range:"[0,10000000]"`
	// KeepFreeMB is how much of the disk stays free, in MB; 0: no matter. Where less is free the oldest results go that
	// every sink has got, but none younger than a day.
	KeepFreeMB int `yaml:"keep_free_mb" range:"[0,10000000]"`
}
