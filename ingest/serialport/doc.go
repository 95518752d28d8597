// Package serialport opens serial ports through the serial library and guards its weak spots.
//
// It is the only importer of that library. A read that ends without a byte is an error or goes on waiting, never the
// library's (0, nil); a port that is in use is refused with the name of who has it; the descriptor is never closed
// under a reader or a writer, so that no byte meant for an instrument lands in another file; what went wrong is a
// typed error in the words of the bench. Ports are found and told apart from what the kernel shows under /sys, never
// by opening them: opening would re-program a port that somebody uses. The package refuses settings left at zero and
// an identity that fits more than one port.
package serialport
