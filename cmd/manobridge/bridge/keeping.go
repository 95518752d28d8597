package bridge

import (
	"time"

	"manobridge/configs"
	"manobridge/publish/journal"
)

// keeping is how much of the journal stays.
func keeping(c *configs.Config) journal.Bounds {
	const day, mb = 24 * time.Hour, 1_000_000
	return journal.Bounds{
		Age:  time.Duration(c.Journal.KeepDays) * day,
		Size: int64(c.Journal.KeepSizeMB) * mb,
		Free: int64(c.Journal.KeepFreeMB) * mb,
	}
}

// sinkNames are the names of the sinks that a configuration has, as in their cursors.
func sinkNames(c *configs.Config) (names []string) {
	if c.Publish.MQTT != nil {
		names = append(names, toBroker)
	}
	if c.Publish.Series != nil {
		names = append(names, toStore)
	}
	return names
}
