package frame

import (
	"encoding/hex"
	"hash/crc32"
	"math/rand/v2"
	"strings"
	"testing"
)

// Check values of the nine characters 123456789. Source: G. Cook, Catalogue of parametrised CRC algorithms (cyclic
// ones, from memory save ibm-3740 and xmodem); the others by hand from their definition.
func TestChecksumsProveThemselves(t *testing.T) {
	want := map[string]uint32{
		"xor-8": 0x31, "sum-8": 0xDD, "sum-16": 0x1DD, "twos-complement-8": 0x23, "crc-8/smbus": 0xF4, "crc-8/maxim": 0xA1,
		"crc-16/modbus": 0x4B37, "crc-16/arc": 0xBB3D, "crc-16/ibm-3740": 0x29B1, "crc-16/xmodem": 0x31C3, "crc-16/kermit": 0x2189,
		"crc-16/x-25": 0x906E, "crc-16/genibus": 0xD64E, "crc-32": 0xCBF43926,
	}
	if got := len(ChecksumNames()); got != len(want) {
		t.Errorf("got %d checksums, want %d", got, len(want))
	}
	for _, name := range ChecksumNames() {
		c, err := checksumNamed(strings.ToUpper(name))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if got := c.of([]byte("123456789")); got != want[name] {
			t.Errorf("%s: got %X, want %X", name, got, want[name])
		}
	}
}

func TestAmbiguousChecksumIsExplained(t *testing.T) {
	for _, name := range []string{"CCITT", "crc-16/ccitt", "CRC-CCITT"} {
		if _, err := checksumNamed(name); err == nil || !strings.Contains(err.Error(), "29B1") || !strings.Contains(err.Error(), "2189") {
			t.Errorf("%s: got %v, want it refused with what to find out", name, err)
		}
	}
	if _, err := checksumNamed("crc-99"); err == nil || !strings.Contains(err.Error(), "crc-16/modbus") {
		t.Errorf("got %v, want the names that are known", err)
	}
}

// Worked examples of whole messages.
func TestChecksumExamples(t *testing.T) {
	for _, tt := range []struct {
		name, hex string
		want      uint32
		source    string
	}{
		{"crc-16/modbus", "010300000002", 0x0BC4, "Modbus read request, sent low byte first as C4 0B; computed with a general-purpose tool"},
		{"xor-8", hex.EncodeToString([]byte("HCXDR,A,171,D,PITCH,A,-37,D,ROLL,G,367,,MAGX,G,2420,,MAGY,G,-8984,,MAGZ")), 0x41,
			"NMEA 0183 XDR example in the GPSD documentation"},
		{"crc-16/arc", hex.EncodeToString([]byte("0+3.14")), uint32('O'&0x3F)<<12 | uint32('q'&0x3F)<<6 | uint32('Z'&0x3F), "SDI-12 specification 1.4, 4.4.12: 0+3.14 carries OqZ, which hold bits 15 to 12, 11 to 6 and 5 to 0"},
	} {
		b, err := hex.DecodeString(tt.hex)
		if err != nil {
			t.Fatal(err)
		}
		c, err := checksumNamed(tt.name)
		if err != nil {
			t.Fatal(err)
		}
		if got := c.of(b); got != tt.want {
			t.Errorf("%s of %s: got %X, want %X (%s)", tt.name, tt.hex, got, tt.want, tt.source)
		}
	}
}

func TestCRC32AgainstTheLibrary(t *testing.T) {
	c, err := checksumNamed("crc-32")
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(1, 2)) // the seed
	for range 200 {
		b := make([]byte, rng.IntN(300))
		for i := range b {
			b[i] = byte(rng.Uint32())
		}
		if got, want := c.of(b), crc32.ChecksumIEEE(b); got != want {
			t.Fatalf("%x: got %X, want %X (hash/crc32)", b, got, want)
		}
	}
}

// A cyclic checksum finds every single wrong bit and every burst no longer than itself (W. W. Peterson and D. T. Brown,
// Cyclic Codes for Error Detection, Proceedings of the IRE 49, 1961, theorems 1 and 5).
func TestCyclicChecksumsFindBursts(t *testing.T) {
	text := []byte("02,110.53,21.04,962.25,40")
	for _, entry := range checksums {
		if entry.kind != cyclic {
			continue
		}
		c, err := checksumNamed(entry.name)
		if err != nil {
			t.Fatal(err)
		}
		good := c.of(text)
		for bit := range len(text)*8 - c.width {
			for _, burst := range []uint32{1, c.mask(), 1 | 1<<(c.width-1)} {
				b := append([]byte(nil), text...)
				for i := range c.width {
					if burst>>i&1 != 0 {
						b[(bit+i)/8] ^= 1 << ((bit + i) % 8)
						if !c.reflect { // bits count from the other end of each byte
							b[(bit+i)/8] ^= 1<<((bit+i)%8) ^ 1<<(7-(bit+i)%8)
						}
					}
				}
				if c.of(b) == good {
					t.Fatalf("%s misses a burst %b at bit %d", c.name, burst, bit)
				}
			}
		}
	}
}
