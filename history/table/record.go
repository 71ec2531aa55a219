package table

import "strings"

// records gives the records of a table, blank ones among them.
type records interface {
	// next returns the fields, valid until the next call, and the 1-based
	// line (or sheet row) the record starts on; io.EOF after the last, a
	// *recordError for a record that cannot be taken apart.
	next() (fields []string, line int, err error)
}

// recordError is a fault of one record; a fatal one ends the reading.
type recordError struct {
	line, column int
	message      string
	fatal        bool
}

func (e *recordError) Error() string { return e.message }

// blank tells whether every field of a record is.
func blank(fields []string) bool {
	for _, f := range fields {
		if strings.TrimSpace(f) != "" {
			return false
		}
	}
	return true
}
