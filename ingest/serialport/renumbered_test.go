package serialport_test

import (
	"os"
	"path/filepath"
	"testing"

	"manobridge/ingest"
	"manobridge/ingest/ingesttest"
	"manobridge/ingest/serialport"
)

// plug lets the kernel show an adapter as ttyUSB… that is really one end of the line.
func (tr tree) plug(tty, bus, vendor, product string, line *ingesttest.Line) {
	tr.t.Helper()
	tr.usb(tty, bus, vendor, product, "", "0")
	tr.link("dev/"+tty, line.Path)
}

// unplug takes it away again.
func (tr tree) unplug(tty string) {
	tr.t.Helper()
	for _, path := range []string{"dev/" + tty, "sys/class/tty/" + tty} {
		if err := os.Remove(filepath.Join(tr.root, path)); err != nil {
			tr.t.Fatal(err)
		}
	}
}

// An adapter is pulled in the middle of a frame, and comes back as ttyUSB3 while another one has taken the name it had. It
// is found by what it says of itself, the half frame is not joined to what comes then, and nothing of the other is read.
func TestAdapterComesBackUnderAnotherNumber(t *testing.T) {
	tr := newTree(t)
	before, other, after := ingesttest.NewLine(t), ingesttest.NewLine(t), ingesttest.NewLine(t)
	tr.plug("ttyUSB0", "1-1", "0403", "6001", before)
	s := serialport.Settings{USB: serialport.USB{Vendor: "0403", Product: "6001"}, Baud: 9600, DataBits: 8, Parity: "none", StopBits: 1, Root: tr.root}
	r := ingesttest.Run(t, ingesttest.Options(t, s.Opener(), nil))
	opened := func(n int) {
		t.Helper()
		ingesttest.Eventually(t, "port open", func() bool { return len(r.Events(ingest.PortOpened)) == n })
	}
	opened(1)
	before.Send("\n02,1.5,21\r\n02,7")
	ingesttest.Eventually(t, "half a frame", func() bool { return r.Source.Stats().Bytes == uint64(len("\n02,1.5,21\r\n02,7")) })
	tr.unplug("ttyUSB0")
	before.Unplug()
	ingesttest.Eventually(t, "the loss", func() bool { return len(r.Events(ingest.PortLost)) == 1 && len(r.Events(ingest.PortUnopened)) >= 1 })

	tr.plug("ttyUSB0", "1-2", "10c4", "ea60", other)
	tr.plug("ttyUSB3", "1-3", "0403", "6001", after)
	opened(2)
	other.Send("\n02,999,21\r\n")
	after.Send(".5,21\r\n02,2.5,21\r\n") // it comes in within a frame
	r.WantFrames("duct-2", "02,1.5,21", "02,2.5,21")
	if e := r.Events(ingest.PortLost)[0]; e.Bytes != len("02,7") {
		t.Errorf("got %d bytes cut off, want those of 02,7", e.Bytes)
	}
}

// The same by a link, which is what /dev/serial/by-id is: it leads elsewhere after the adapter was plugged in again.
func TestLinkLeadsElsewhereAfterPlugging(t *testing.T) {
	before, after := ingesttest.NewLine(t), ingesttest.NewLine(t)
	link := filepath.Join(t.TempDir(), "usb-bench-if00-port0")
	if err := os.Symlink(before.Path, link); err != nil {
		t.Fatal(err)
	}
	r := ingesttest.Run(t, ingesttest.Options(t, settings(link).Opener(), nil))
	ingesttest.Eventually(t, "port open", func() bool { return r.Source.Stats().Open })
	before.Send("\n02,1.5,21\r\n")
	r.WantFrames("duct-2", "02,1.5,21")
	if err := os.Remove(link); err != nil {
		t.Fatal(err)
	}
	before.Unplug()
	ingesttest.Eventually(t, "the loss", func() bool { return r.Source.Stats().Losses == 1 })
	if err := os.Symlink(after.Path, link); err != nil {
		t.Fatal(err)
	}
	ingesttest.Eventually(t, "port open again", func() bool { return r.Source.Stats().Opens == 2 })
	after.Send("\n02,2.5,21\r\n")
	r.WantFrames("duct-2", "02,1.5,21", "02,2.5,21")
}
