package operate

import "github.com/prometheus/client_golang/prometheus"

// descriptions say what each figure is. Labels are bounded by the configuration and by the causes of the program.
type descriptions struct {
	all []*prometheus.Desc

	build, started, clock, results, readings, lastGood *prometheus.Desc

	portOpen, portBytes, portFrames, portGood, portRefused, portUnattributed, portPassed,
	portOpens, portOpenFailures, portLosses, portStalled *prometheus.Desc

	journalRows, journalLast, journalHeld, journalLost, journalWritable, journalDisk *prometheus.Desc

	sinkUp, sinkDelivered, sinkLag, sinkLagTime, sinkQuarantined, sinkOutages, sinkSuspects *prometheus.Desc
}

func describe() descriptions {
	var d descriptions
	add := func(to **prometheus.Desc, name, help string, labels ...string) {
		*to = prometheus.NewDesc(prefix+name, help, labels, nil)
		d.all = append(d.all, *to)
	}
	add(&d.build, "build_info", "Version of the program and of Go; always 1.", "version", "goversion")
	add(&d.started, "run_start_timestamp_seconds", "When this run began, as Unix time.")
	add(&d.clock, "clock_synchronised", "1 while the kernel says that its clock is synchronised; absent where it may not be asked.")
	add(&d.results, "results_total", "Results made, by status.", "status")
	add(&d.readings, "instrument_readings_total", "Readings numbered in this run, refused ones included.", "instrument")
	add(&d.lastGood, "instrument_last_good_age_seconds", "Time since the latest frame with a reading; absent before the first.", "instrument")

	add(&d.portOpen, "port_open", "1 while the port is open.", "port")
	add(&d.portBytes, "port_received_bytes_total", "Bytes received.", "port")
	add(&d.portFrames, "port_frames_total", "Frames found.", "port")
	add(&d.portGood, "port_good_frames_total", "Frames that gave a reading.", "port")
	add(&d.portRefused, "port_refused_readings_total", "Readings without a value, by cause; silence and port-gone are of no frame.", "port", "cause")
	add(&d.portUnattributed, "port_unattributed_frames_total", "Refused frames that belong to no instrument, by cause.", "port", "cause")
	add(&d.portPassed, "port_passed_over_bytes_total", "Bytes before the first frame after an opening, and of frames cut off.", "port")
	add(&d.portOpens, "port_opens_total", "Times the port was opened.", "port")
	add(&d.portOpenFailures, "port_open_failures_total", "Attempts to open that failed.", "port")
	add(&d.portLosses, "port_losses_total", "Times an open port vanished.", "port")
	add(&d.portStalled, "port_stalled_seconds_total", "Time that reading had to wait because readings were not taken.", "port")

	add(&d.journalRows, "journal_rows_total", "Results made durable.")
	add(&d.journalLast, "journal_last_row", "Number of the newest durable row.")
	add(&d.journalHeld, "journal_held_rows", "Results that wait in memory to be made durable.")
	add(&d.journalLost, "journal_lost_results_total", "Results given up because the disk was full for too long; each is in a gap.")
	add(&d.journalWritable, "journal_writable", "1 while the journal takes what it is given.")
	add(&d.journalDisk, "journal_disk_available_bytes", "Room left for this user on the disk of the journal.")

	add(&d.sinkUp, "sink_up", "1 while the far end acknowledges what is delivered.", "sink")
	add(&d.sinkDelivered, "sink_delivered_rows_total", "Rows acknowledged by the far end.", "sink", "lane")
	add(&d.sinkLag, "sink_lag_rows", "Rows of the journal still to be delivered, at most.", "sink", "lane")
	add(&d.sinkLagTime, "sink_lag_seconds", "Age of the oldest row still to be delivered; 0 where none waits.", "sink", "lane")
	add(&d.sinkQuarantined, "sink_quarantined_rows_total", "Rows put aside because the far end refuses them.", "sink")
	add(&d.sinkOutages, "sink_outages_total", "Times the far end stopped taking rows.", "sink")
	add(&d.sinkSuspects, "sink_suspect_losses_total", "Times the link was lost with rows on it that may be to blame.", "sink")
	return d
}
