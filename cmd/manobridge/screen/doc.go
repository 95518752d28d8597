// Package screen shows the latest results of all instruments as a table for a person to look at: redrawn in place on a
// terminal of 80 columns, and as plain lines where the output is a file or a pipe.
//
// It shows what it is given and judges nothing. Colour only underlines what a word on the same line says. It refuses to
// make up a number: what does not exist is a dash, and a bad result shows its cause in the place of its numbers.
package screen
