// Package simulate plays a test hall full of liquid-column manometers: it knows the true pressure, and from it works
// out what a digitizer would send.
//
// It is the other side of the bridge, and shares none of its physics: an instrument's positions follow from a force
// balance through every fluid column and a balance of liquid volume, with densities of its own. So when the bridge
// turns the positions back into pressures and the truth lies within the stated uncertainty, two independent
// derivations agree.
//
// A Declared hall says what its owner wrote down, each value with a standard uncertainty (k = 1). Build draws from
// those distributions, once, what is really there: slopes, bores, densities, gravity, the air, and the zero readings
// with their own errors. Position and temperature errors are drawn with every frame. What is declared is exactly what
// is drawn, and the configuration text comes from the same values, so the two cannot drift apart.
//
// Everything follows from a seed; time is an argument. The package opens nothing, waits for nothing, and refuses what
// it was not made for: it knows no capillarity and no motion of the liquid (a column stands where it would come to
// rest), the air in the legs keeps its temperature, and one thermometer serves each liquid.
package simulate
