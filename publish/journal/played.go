package journal

import "strings"

// playedEnd is how the name of a run ends that played a recording.
const playedEnd = "played"

// PlayedRun names a run that plays a recording, from the name that it would have had otherwise.
func PlayedRun(run string) string { return run + playedEnd }

// IsPlayed tells whether a run played a recording. Its readings are of a time of their own, and say nothing of when a
// bridge was last listening. The names of other runs end in hexadecimal digits.
func IsPlayed(run string) bool { return strings.HasSuffix(run, playedEnd) }
