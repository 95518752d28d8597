// Package alarms holds the alarms of one bridge: it gives every result to the limits that are about it, keeps their state
// over restarts, tells of each transition, and does what people ask.
//
// The state machines are those of convert/alarm; here they get the results, the clock, a place to be kept and a board to be
// told on. One goroutine, the loop of the bridge, calls it; it starts none, and delivers nothing itself.
package alarms
