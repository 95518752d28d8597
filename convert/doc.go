// Package convert turns the positions of a liquid column into a pressure with its uncertainty and its status.
//
// It holds the words the other packages share: a Reading comes in, a Result goes out. It is pure: no input or output,
// no clock (package time only for its types), no logger, no package variable that changes. It refuses to print a
// number it does not believe: what is missing, not finite, off the scale or outside the range a source vouches for
// becomes a result without a pressure, with the cause.
package convert
