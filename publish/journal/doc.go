// Package journal keeps every reading and its result in one SQLite file before anything is delivered, together with
// the cursors of the sinks, the gaps, the coefficient sets and what was put aside.
//
// One writer goroutine commits what has been handed over, in groups: a group is committed as soon as the one before
// has ended. Readers have connections of their own and never block it. The file is write-ahead logged; with
// durability strict every commit is flushed to the disk, with relaxed the last ones may be lost when the power fails,
// never when the program does.
//
// The package refuses to let two bridges write one file (a lock file of its own tells who holds it), to write into a
// database that is not a journal or comes from a later version, to keep a pressure that is not a number, and to lose
// anything without counting it: what does not fit on a full disk is held in memory, and what does not fit there
// becomes a gap with its count. It never opens the database's files itself: closing any file descriptor of a file
// drops the locks its process holds on it (POSIX.1-2017, fcntl), SQLite's included.
package journal
