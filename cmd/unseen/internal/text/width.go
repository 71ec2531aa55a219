package text

import (
	"io"

	"golang.org/x/term"
)

// How wide lines are, where the words themselves allow it.
const (
	piped    = 100 // in a pipe or a file
	unknown  = 80  // on a terminal that does not tell its width
	narrow   = 40  // at least: below it nothing can be laid out
	readable = 120 // the widest running text; tables use all of a wider terminal
)

// Fd is the file descriptor behind w; of what has none, one that is no terminal.
func Fd(w io.Writer) uintptr {
	if f, ok := w.(interface{ Fd() uintptr }); ok {
		return f.Fd()
	}
	return ^uintptr(0)
}

// OnTerminal says whether w is a terminal.
func OnTerminal(w io.Writer) bool { return term.IsTerminal(int(Fd(w))) }

// Width is how wide lines written to w are to be: those of its terminal, 100
// where it is none.
func Width(w io.Writer) int {
	if !OnTerminal(w) {
		return piped
	}
	wide, _, err := term.GetSize(int(Fd(w)))
	if err != nil || wide <= 0 {
		return unknown
	}
	return max(wide, narrow)
}
