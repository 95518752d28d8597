// Package desk works out single questions about one configured instrument, for a person who checks a calculation made by
// hand: where each pascal of a reading comes from, where the menisci go, what the uncertainty is made of; and two
// questions about a place and a fluid.
//
// It computes through the converter, so that its numbers are those of the running bridge, and prints what it assumed. It
// opens nothing, remembers nothing, and gives no number for a reading the converter refuses.
package desk
