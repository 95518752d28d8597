//go:build !linux

package demo

import "errors"

var errNoLine = errors.New("the demonstration needs the pseudo-terminals of Linux; run and convert work here")

func openLine(string) (*serialLine, error)  { return nil, errNoLine }
func (l *serialLine) opened() (bool, error) { return false, errNoLine }
func (l *serialLine) unread() (int, error)  { return 0, errNoLine }
func (l *serialLine) close() error          { return nil }
