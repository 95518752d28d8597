package mqtt

import "github.com/eclipse/paho.mqtt.golang/packets"

// forgetful keeps no message for the client to send again: a connection is used once, and what it did not bring over is in
// the journal.
type forgetful struct{}

func (forgetful) Open()                                   {}
func (forgetful) Put(string, packets.ControlPacket)       {}
func (forgetful) Get(string) (none packets.ControlPacket) { return none }
func (forgetful) All() []string                           { return nil }
func (forgetful) Del(string)                              {}
func (forgetful) Close()                                  {}
func (forgetful) Reset()                                  {}
