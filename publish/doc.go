// Package publish carries results from the journal to every configured sink: at least once, unaltered, with the time
// they were taken.
//
// Outbox follows the journal for one Sink. It keeps two lanes over disjoint rows: the live lane takes what was read
// just now, the late lane takes what an outage left behind, so that a live value is never held up behind a backlog
// and a late value is never shown as a live one. A cursor moves only over rows the far end has acknowledged; what the
// far end refuses for its content is put aside in quarantine, by name and with the reason.
//
// Payload is the JSON object of one result, as messages carry it and as the offline conversion prints it.
//
// The package refuses to deliver anything that is not in the journal first, to skip a row without recording it, and
// to know how a sink works: brokers and stores are in the packages below.
package publish
