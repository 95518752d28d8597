// Package operate is what the machine the bridge runs on sees of it: the service manager's notifications and unit file, the
// form of the log, health and metrics over HTTP.
//
// It refuses to feed a watchdog by a clock alone: only a loop that goes round keeps the service alive.
package operate

import (
	"fmt"
	"log/slog"
	"sync"
	"time"

	"github.com/coreos/go-systemd/v22/daemon"
)

// Pipeline is what the service manager is told about.
type Pipeline interface {
	// Alive tells whether the pipeline made progress within d.
	Alive(d time.Duration) bool
	// Status is one line for a person.
	Status() string
}

// Service tells systemd that the bridge is ready, how it is doing, and that it is alive. Without systemd it does nothing.
type Service struct {
	p    Pipeline
	log  *slog.Logger
	stop chan struct{}
	wg   sync.WaitGroup
}

// NewService makes a Service; Start begins, Stop ends it.
func NewService(p Pipeline, log *slog.Logger) *Service {
	return &Service{p: p, log: log, stop: make(chan struct{})}
}

// Start says READY and feeds the watchdog, where one is set, at a third of its time.
func (s *Service) Start() {
	sent, err := daemon.SdNotify(false, daemon.SdNotifyReady)
	if err != nil {
		s.log.Warn("the service manager could not be told that the bridge is ready", "code", "service-notify", "reason", err.Error())
	}
	if !sent {
		return
	}
	limit, err := daemon.SdWatchdogEnabled(false)
	if err != nil {
		s.log.Warn("the watchdog setting of the service manager cannot be read; it is not fed", "code", "service-notify", "reason", err.Error())
	}
	every := 10 * time.Second
	if limit > 0 {
		every = limit / 3
	}
	s.wg.Go(func() { s.feed(every, limit) })
}

func (s *Service) feed(every, limit time.Duration) {
	t := time.NewTicker(every)
	defer t.Stop()
	for {
		select {
		case <-s.stop:
			return
		case <-t.C:
		}
		message := fmt.Sprintf("STATUS=%s", s.p.Status())
		if limit > 0 && s.p.Alive(limit) {
			message += "\n" + daemon.SdNotifyWatchdog
		}
		if _, err := daemon.SdNotify(false, message); err != nil {
			s.log.Warn("the service manager could not be told how the bridge is", "code", "service-notify", "reason", err.Error())
		}
	}
}

// Stop says STOPPING and waits for the feeder.
func (s *Service) Stop() {
	close(s.stop)
	s.wg.Wait()
	_, _ = daemon.SdNotify(false, daemon.SdNotifyStopping) // nobody is left to tell
}
