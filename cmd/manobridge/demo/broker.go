package demo

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"time"

	mqtt "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/hooks/auth"
	"github.com/mochi-mqtt/server/v2/listeners"
)

// broker is the embedded MQTT broker. It listens on the loopback address only and lets every client in.
type broker struct {
	server *mqtt.Server
	url    string
}

// openBroker starts a broker on a free port.
func openBroker(log *slog.Logger) (*broker, error) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, fmt.Errorf("embedded broker: %w", err)
	}
	server := mqtt.New(&mqtt.Options{Logger: log})
	err = errors.Join(
		server.AddHook(new(auth.AllowHook), nil),
		server.AddListener(listeners.NewNet("demo", listener)),
	)
	if err == nil {
		err = server.Serve()
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("embedded broker: %w", err), listener.Close())
	}
	return &broker{server: server, url: "tcp://" + listener.Addr().String()}, nil
}

// close disconnects every client and stops the broker.
func (b *broker) close() error {
	err := b.server.Close()
	// The library does not wait for the connections it was handling; give them a moment to notice.
	ctx, cancel := context.WithTimeout(context.Background(), time.Second)
	defer cancel()
	return errors.Join(err, poll(ctx, 1, func() (bool, error) { return b.server.Clients.Len() == 0, nil }))
}
