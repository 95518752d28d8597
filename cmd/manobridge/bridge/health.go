package bridge

import (
	"fmt"
	"time"

	"manobridge/publish"
)

// Stuck names what does not move any more though it should, one line each: the loop, the driver of a port, a delivery that
// ignores its time limit. What is not there (a port, a broker, a store, room on the disk) is waited for and is not stuck;
// a new start would not bring it back.
func (b *Bridge) Stuck(d time.Duration) (lines []string) {
	if since := b.clock.SinceStart() - time.Duration(b.pulse.last.Load()); since >= d {
		lines = append(lines, fmt.Sprintf("the loop has not gone round for %.0f s; check disk and processor load", since.Seconds()))
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, l := range b.lines {
		if l.source.Stuck() {
			lines = append(lines, "reading port "+l.port.Name+" does not come back; check the driver of the adapter")
		}
	}
	for _, x := range b.boxes {
		if x.outbox.Stuck() {
			lines = append(lines, "delivery to "+x.name+" does not come back")
		}
	}
	return lines
}

// Alive tells whether nothing is stuck, the loop within d.
func (b *Bridge) Alive(d time.Duration) bool { return len(b.Stuck(d)) == 0 }

// Ailments are what is stuck, and a journal that does not take what it is given.
func (b *Bridge) Ailments(d time.Duration) []string {
	lines := b.Stuck(d)
	if s := b.journal.Stats(); s.Full != nil {
		lines = append(lines, fmt.Sprintf("the journal cannot be written: %v; %d results are held in memory, %d were given up; make room on the disk", s.Full, s.Waiting, s.Lost))
	}
	return lines
}

// Outboxes are the deliveries in use, for statistics.
func (b *Bridge) Outboxes() []*publish.Outbox {
	boxes := b.sinks()
	list := make([]*publish.Outbox, len(boxes))
	for i, x := range boxes {
		list[i] = x.outbox
	}
	return list
}

// SinceStart is the clock of Reading.SinceStart and of statistics.
func (b *Bridge) SinceStart() time.Duration { return b.clock.SinceStart() }

// Started is when the run began.
func (b *Bridge) Started() time.Time { return b.started }

// ClockSynchronised is what the kernel says of its clock; known is false where it may not be asked.
func (b *Bridge) ClockSynchronised() (yes, known bool) { return kernelSynchronised() }

// Version is what the toolchain stamped into the program.
func Version() string { return version() }
