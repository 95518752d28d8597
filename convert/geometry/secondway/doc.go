// Package secondway finds where the menisci of a manometer stand, given the pressure: the forward problem, solved from
// first principles so that tests can hold the production formulas against something that shares nothing with them.
//
// Only tests import it. It refuses to be a measuring path: no uncertainty, no status, no quantity types, and it favours
// plainness over speed.
//
// # How it works
//
// Every kind of instrument is written as a path from the tap of the high limb, through each fluid in turn, to the tap of
// the low limb. Two laws hold:
//
//	force   p(high) + Σ −ρ·g·Δz along the path + Σ jumps at the menisci − p(low) = 0
//	volume  the liquid below the two menisci is what was filled in, corrected for temperature as a mass is
//
// The unknown is one number, the volume that has moved from the high limb into the low one. For a trial volume each limb
// gives the place of its meniscus (its own volume-below-meniscus function), the path is walked in short steps of height
// with the rounding of the sum carried along, and the volume is bisected until the walk closes. No head equation, no
// sensitivity and no expanded form of any kind is written down, so a wrong sign or a forgotten term in a closed formula
// cannot be repeated here by copying.
//
// # How it was kept independent
//
// It was derived from hydrostatics (dp = −ρ g dz), conservation of mass, the Young-Laplace jump at a meniscus and plane
// geometry alone. It was written without reading the production geometry or conversion code, and it imports nothing of
// this module. Both sides share only definitions: the density form ρ = ρ_ref/(1 + β(t − t_ref)), the scale
// form true = shown·(1 + α(t − t_ref)), the order of the two tilts, and which way is positive.
//
// # Conventions
//
// All numbers are coherent SI: m, kg/m³, m/s², Pa, N/m, rad, K. Heights are vertical above one common level, the level
// of the scale zeros unless stated. Differential pressure is p(high) − p(low) at the taps. Positions are what the scale
// shows, along the limb, upward. Head is the vertical distance from the high meniscus up to the low one.
package secondway
