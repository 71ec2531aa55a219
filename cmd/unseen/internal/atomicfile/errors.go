package atomicfile

import (
	"errors"
	"fmt"
	"os"
)

// Refusal is a file that the rule keeps from being written.
type Refusal struct{ message string }

func (r Refusal) Error() string { return r.message }

func refuse(format string, args ...any) error { return Refusal{fmt.Sprintf(format, args...)} }

// held is of a file that another program keeps from being replaced.
type held struct{ error }

func (h held) Unwrap() error { return h.error }

// named has an error speak of the file the user named, not of the temporary one.
func named(err error, target string) error {
	var p *os.PathError
	var l *os.LinkError
	switch {
	case errors.As(err, &held{}):
		return err // names it
	case errors.As(err, &p):
		return &os.PathError{Op: "write", Path: target, Err: p.Err}
	case errors.As(err, &l):
		return &os.PathError{Op: "write", Path: target, Err: l.Err}
	}
	return err
}
