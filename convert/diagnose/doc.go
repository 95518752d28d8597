// Package diagnose says what the readings of an instrument tell about the instrument itself: a column that broke, liquid that
// went, a value that stands still, a pulsating or a swapped line.
//
// It looks at results one by one, gets their time with them, and remembers what is usual for the instrument. It judges only
// what it has seen enough of: what is usual is learned first, and a thing that was wrong from the start is not found. It
// changes no value; who calls it marks the results. A finding is held until it has been gone for a while, so that one at the
// edge does not flap.
//
// Thresholds are common practice without a source unless one is named; those that a site should set are options.
package diagnose
