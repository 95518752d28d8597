// Package configs reads the one configuration file into plain structs, or says everything that is wrong with it.
//
// It is strict: an unknown key, a key stated twice, a quantity without its unit, a value of the wrong type or outside
// its physical range, and two statements that contradict each other are all reported at once, each with its line, the
// key, the value seen, what is allowed and what was probably meant. Nothing is returned when anything is wrong.
//
// Numbers are float64 with the unit in the name, as in the file; a pointer is nil where the file does not state the
// key, so that a stated 0 is never taken for one left out. Defaults live in defaults.go and nowhere else; where an
// uncertainty is left out it stays nil here, for the converter to apply its documented default and to say so.
//
// The package opens nothing but the file itself and the files secrets are kept in. It does not open ports, resolve
// hosts, look anything up by itself, compute a density or judge whether an instrument can work: the packages that own
// these things do.
package configs
