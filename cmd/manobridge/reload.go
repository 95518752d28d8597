package main

import (
	"context"
	"log/slog"
	"os"
	"os/signal"
	"sync"
	"syscall"

	"manobridge/cmd/manobridge/bridge"
	"manobridge/cmd/manobridge/operate"
)

// reloader applies the configuration file anew on each SIGHUP. From its making to its end no SIGHUP ends the program.
type reloader struct {
	path string
	log  *slog.Logger
	got  chan os.Signal
	wg   sync.WaitGroup
	stop context.CancelFunc
}

// newReloader takes the signal. One that comes before start is answered then.
func newReloader(path string, log *slog.Logger) *reloader {
	r := &reloader{path: path, log: log, got: make(chan os.Signal, 1), stop: func() {}}
	signal.Notify(r.got, syscall.SIGHUP)
	return r
}

// start answers signals until end.
func (r *reloader) start(b *bridge.Bridge, s *operate.Service) {
	ctx, stop := context.WithCancel(context.Background())
	r.stop = stop
	r.wg.Go(func() {
		for {
			select {
			case <-ctx.Done():
				return
			case <-r.got:
				s.Reloading()
				r.reload(ctx, b)
				s.Reloaded()
			}
		}
	})
}

// reload reads the file and applies it, or says why not; the bridge then goes on as it was.
func (r *reloader) reload(ctx context.Context, b *bridge.Bridge) {
	cfg, err := loadConfig(r.path, false)
	if err == nil {
		err = b.Reload(ctx, cfg)
	}
	if err != nil {
		r.log.Error("the new configuration is not applied, the bridge goes on with the one it has; correct the file and send SIGHUP again, or restart where that is asked for",
			"code", "reload-refused", "file", r.path, "reason", err.Error())
	}
}

// end waits for a reload under way.
func (r *reloader) end() {
	r.stop()
	r.wg.Wait()
	signal.Stop(r.got)
}
