// Package sizing searches shapes and liquids for an instrument that shows a range of pressure with a resolution, and says of
// each what it would be worth: how long, how sensitive, how much a tilt and a change of temperature would cost, and its
// expanded uncertainty.
//
// Every candidate is built as a configuration and computed by the converter, so that its numbers are those that check
// gives. It refuses what cannot be read or should not be filled, and counts what it refused with the reason. It chooses
// nothing: the ranking is by uncertainty alone, and price, glass and safety are the reader's.
package sizing
