// Package mqtt publishes results to an MQTT broker, and keeps the retained words on each instrument and on the bridge
// itself true.
//
// A Sink holds one connection for both lanes of its outbox. Run makes it and makes it anew after every loss, each time
// with a new client and an empty window: what was not acknowledged on the old connection counts as not delivered. A
// client that reconnects by itself may report as done what no broker ever acknowledged.
//
// Topics under PREFIX/SITE, every message at quality of service 1:
//
//	INSTRUMENT/pressure  one live result                       not retained
//	INSTRUMENT/backlog   one result delivered late             not retained
//	INSTRUMENT/state     how far its values can be trusted     retained; on change and every StateEvery
//	INSTRUMENT/about     what the instrument is                retained; after each connection is made
//	BRIDGE/presence      present, leaving, or lost (the will)  retained
//	BRIDGE/canary        what the bridge sends to itself       not retained
//
// In MQTT 3.1.1 an acknowledgement cannot say no: a broker that drops a message because of its access list may
// acknowledge it all the same. Therefore the bridge sends itself a canary, and says so when it does not come back.
//
// The package refuses to take an acknowledgement of one connection for a message of another, to hold up live results
// for late ones, to repeat a good state that no reading stands behind any more, and to publish to a topic that would
// make a broker cut the connection.
//
// Source: MQTT Version 3.1.1, OASIS Standard, 29 October 2014.
package mqtt
