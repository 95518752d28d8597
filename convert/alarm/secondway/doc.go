// Package secondway works out how an alarm stands from its whole history, so that tests can hold the alarm's state
// machine against something that shares nothing with it.
//
// Only tests import it. It refuses to run an alarm: it keeps no state, draws everything anew for every question, and
// favours plainness over speed.
//
// # How it works
//
// It draws a timing chart, as one would on squared paper. The history is a list of entries: readings, requests,
// restarts, and mere looks at the clock. Between two entries the chart has a scan at every step of time, so that whatever
// falls due does so at its own moment and not when somebody happens to look. Each row of the chart is worked out over all
// its columns from the rows above it, by looking back along them:
//
//	condition     what the latest reading said
//	active        present for the whole on-delay, until absent for the whole off-delay
//	hidden        set aside, until its time is over, or the one shot is used, or somebody brings it back; or
//	              suppressed by design; or out of service
//	unacknowledged, latched, and every time the alarm comes, or comes again
//	calls         those of them that nothing hides
//	shown         one of the nine states
//
// No row looks at one below it. What is left of a delay is read off the chart; when something will happen next is found
// by drawing it on with nothing but scans.
//
// # How it was kept independent
//
// It was derived from the rules of IEC 62682:2014 and ANSI/ISA-18.2-2016 (states and their transitions, letters A to I
// from memory) and OPC 10000-9 v1.05, 5.8 (delays, shelving, re-alarm), without reading the state machine, and it imports
// nothing of this module. Where these rules leave something open, both ways make the same choice; each is marked "choice"
// where it is made here, and nothing else is let pass.
//
// # Conventions
//
// Time is running time: it stands still while no bridge runs. All times are whole multiples of Step. Readings and requests
// of one moment keep the order in which they came; an alarm that comes by itself in the moment of an acknowledgement is not
// acknowledged by it.
package secondway
