// Package alarm turns results into decisions: verdicts against a limit with the reading's own uncertainty, the states of
// an alarm, first-out in a group, and the account of every excursion.
//
// Everything here is a state machine that gets its time passed in, as time since the start of the run; there is no clock,
// no timer and no lock. A value that is missing is never read as a return to normal: it holds the state. The package
// publishes nothing, keeps nothing on disk, and does not know who asks.
//
// The states and rules are those of IEC 62682:2014 and ANSI/ISA-18.2-2016, clause and figure "alarm state transition
// diagram" (letters A to I, from memory). Where the standard leaves a choice, the doc comment says what was chosen.
package alarm
