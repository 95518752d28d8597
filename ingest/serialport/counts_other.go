//go:build !linux

package serialport

func (g *guard) lineErrors() map[string]uint32 { return nil }
