package assemble

import (
	"crypto/sha256"
	"encoding/hex"

	"manobridge/configs"
)

// Set is a coefficient set: everything that turns a position into a pressure, and nothing else.
type Set struct {
	Hash string // the first 16 hexadecimal digits of the SHA-256 of Text
	Text string // canonical JSON
}

// CoefficientSet names the coefficient set of an instrument. Two configurations that give the same results for the same
// readings have the same set; a change of port or address changes nothing.
func CoefficientSet(c *configs.Config, in *configs.Instrument) (Set, error) {
	text, err := c.Canonical(in.Name)
	if err != nil {
		return Set{}, err
	}
	sum := sha256.Sum256([]byte(text))
	return Set{Hash: hex.EncodeToString(sum[:8]), Text: string(text)}, nil
}
