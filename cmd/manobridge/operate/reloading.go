package operate

import (
	"github.com/coreos/go-systemd/v22/daemon"
)

// Reloading says that a new configuration is being applied, Reloaded that this is over, whatever came of it. A service of
// Type=notify-reload waits for the second. Source: sd_notify(3), RELOADING=1.
func (s *Service) Reloading() {
	s.tell(daemon.SdNotifyReloading + "\n" + daemon.SdNotifyMonotonicUsec())
}

// Reloaded says that the bridge is ready again.
func (s *Service) Reloaded() { s.tell(daemon.SdNotifyReady) }

func (s *Service) tell(message string) {
	if _, err := daemon.SdNotify(false, message); err != nil {
		s.log.Warn("the service manager could not be told how the bridge is", "code", "service-notify", "reason", err.Error())
	}
}
