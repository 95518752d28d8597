package mqtt_test

import (
	"errors"
	"io"
	"net"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/eclipse/paho.mqtt.golang/packets"

	"manobridge/publish/mqtt"
	"manobridge/publish/publishtest"
)

// stalling takes one connection, acknowledges everything up to the first result, and then reads no more until resume is
// closed. ended gets how the connection ended, nil for an orderly end.
func stalling(t *testing.T, patient bool) (addr string, stalled, resume chan struct{}, ended chan error) {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	stalled, resume, ended = make(chan struct{}), make(chan struct{}), make(chan error, 1)
	done := make(chan struct{})
	go func() {
		defer close(done)
		c, err := listener.Accept()
		if err != nil {
			ended <- err
			return
		}
		defer c.Close()
		_ = listener.Close() // there is one connection
		for {
			packet, err := packets.ReadPacket(c)
			if errors.Is(err, io.EOF) {
				err = nil
			}
			if packet == nil {
				ended <- err
				return
			}
			switch p := packet.(type) {
			case *packets.ConnectPacket:
				err = packets.NewControlPacket(packets.Connack).Write(c)
			case *packets.SubscribePacket:
				a := packets.NewControlPacket(packets.Suback).(*packets.SubackPacket)
				a.MessageID, a.ReturnCodes = p.MessageID, []byte{1}
				err = a.Write(c)
			case *packets.PublishPacket:
				if strings.HasSuffix(p.TopicName, "/pressure") && !patient {
					close(stalled)
					<-resume
					_, err = io.Copy(io.Discard, c)
					ended <- err
					return
				}
				a := packets.NewControlPacket(packets.Puback).(*packets.PubackPacket)
				a.MessageID = p.MessageID
				err = a.Write(c)
			}
			if err != nil {
				ended <- err
				return
			}
		}
	}()
	t.Cleanup(func() {
		_ = listener.Close()
		<-done
	})
	return listener.Addr().String(), stalled, resume, ended
}

func stallOptions(addr string) mqtt.Options {
	opt := options(addr, new(said))
	opt.AckWithin, opt.WriteWithin, opt.BackoffMin, opt.BackoffMax = time.Second, 200*time.Millisecond, time.Minute, time.Minute
	return opt
}

// A broker that stalls and comes back after the bridge has given the connection up must not get what was still waiting in
// the system's buffers: these are live values, and old by then. A reset is how TCP says that they were thrown away
// (RFC 9293, 3.10.4, ABORT).
func TestGivenUpConnectionSendsNothingLater(t *testing.T) {
	addr, stalled, resume, ended := stalling(t, false)
	s, _ := start(t, stallOptions(addr))
	ready(t, s)
	e := deliverError(t, s.Deliver(t.Context(), rows(publishtest.Series("r1", room, 1, 200), false)))
	if e.Acked != 0 {
		t.Errorf("got %d acknowledged, want 0", e.Acked)
	}
	<-stalled
	close(resume)
	if err := <-ended; !errors.Is(err, syscall.ECONNRESET) {
		t.Errorf("got the connection ended with %v, want it reset (RFC 9293, 3.10.4)", err)
	}
}

// A goodbye is sent to its end: a reset would have the broker publish the will of a bridge that stopped as planned.
func TestGoodbyeIsNoReset(t *testing.T) {
	addr, _, _, ended := stalling(t, true)
	s, stop := start(t, stallOptions(addr))
	ready(t, s)
	if err := s.Deliver(t.Context(), rows(publishtest.Series("r1", room, 1, 20), false)); err != nil {
		t.Fatalf("Deliver: %v", err)
	}
	stop()
	if err := <-ended; err != nil {
		t.Errorf("got the connection ended with %v, want an orderly end", err)
	}
}
