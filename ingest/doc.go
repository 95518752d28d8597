// Package ingest reads the serial ports of the bridge and makes readings of what they send.
//
// One Source owns one port: it opens it, reads, decodes, tells which instrument spoke, numbers and stamps the reading,
// and opens the port again when it vanished. What could not be used travels on as a reading with its refusal, so that
// a gap has a number and a reason; what belongs to no instrument becomes an event of the port. The package refuses to
// lose anything it has read: every wait for a slow consumer is counted, and at the end everything read is handed over.
// It knows no configuration file, no serial library and no publisher.
package ingest
