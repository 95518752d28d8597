// Package demo is a test hall on this machine, with nothing to install: simulated digitizers write real frames into
// pseudo-terminals for the bridge to read, and an embedded broker receives what the bridge publishes.
//
// It needs no network beyond the loopback address, no rights beyond an ordinary user's, and leaves nothing behind: the
// directory it makes is removed when it is closed. It refuses to be more than a demonstration: the broker lets anyone
// on this machine in, and keeps nothing.
package demo
