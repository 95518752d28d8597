// Package window joins the channels of one instrument in time, and averages its readings over windows.
//
// A channel is what a conversion needs beside the positions: the temperature of the liquid, the air of the room, the tilt
// of the base. It may come from the frames of another instrument or of a station, and is then used only while it is young
// enough. An average is the result of mean positions, with an uncertainty of the mean that is taken from the scatter of
// the readings and allows for their being alike from one to the next.
//
// All ages and windows are on the monotonic clock of the readings. The package reads no clock, starts nothing and keeps no
// state of its own: who calls it holds the Latest of each source and the Averager of each instrument.
package window
