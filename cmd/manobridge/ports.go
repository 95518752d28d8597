package main

import (
	"cmp"
	"encoding/json"
	"fmt"
	"text/tabwriter"

	"manobridge/ingest/serialport"
)

// portsCommand lists the serial ports.
type portsCommand struct {
	JSON bool `help:"One JSON array."`
}

// Run prints the ports with the identity that stays when an adapter is plugged elsewhere.
func (p *portsCommand) Run(s streams) error {
	list, err := serialport.List("")
	if err != nil && len(list) == 0 {
		return notStarted(err)
	}
	if err != nil { // the others are still worth showing
		fmt.Fprintln(s.err, "manobridge: some ports cannot be described:", err)
	}
	if p.JSON {
		e := json.NewEncoder(s.out)
		e.SetIndent("", "  ")
		return e.Encode(list)
	}
	if len(list) == 0 {
		fmt.Fprintln(s.out, "No serial ports with a device behind them. Check that the adapter is plugged in and that its driver is loaded.")
		return nil
	}
	w := tabwriter.NewWriter(s.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "DEVICE\tUSB IDENTITY\tSTABLE PATH")
	for _, i := range list {
		usb := "-"
		if u, ok := i.USB(); ok {
			usb = u.String()
		}
		stable := cmp.Or(i.ByID, i.ByPath, "-")
		fmt.Fprintf(w, "%s\t%s\t%s\n", i.Device, usb, stable)
	}
	return w.Flush()
}
