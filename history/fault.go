package history

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Pos is a place in a file, for messages. Lines and columns count from 1; a
// column is in bytes. Line 0 means the file as a whole.
type Pos struct {
	File         string
	Line, Column int
}

// String is "file:line", or the file alone.
func (p Pos) String() string {
	if p.Line == 0 {
		return p.File
	}
	return fmt.Sprintf("%s:%d", p.File, p.Line)
}

// Fault is one thing that is wrong with a file, said for the person who can
// put it right.
type Fault struct {
	Pos     Pos
	Message string
}

func (f Fault) Error() string { return f.Pos.String() + ": " + f.Message }

// Faults collects all that is wrong with a file, so that it can be put right
// in one go. The zero value keeps every fault; with Keep > 0 the first Keep
// are kept and the others only counted.
type Faults struct {
	Keep int
	List []Fault
	More int
}

// Add notes a fault.
func (f *Faults) Add(pos Pos, format string, args ...any) {
	if f.Keep > 0 && len(f.List) >= f.Keep {
		f.More++
		return
	}
	f.List = append(f.List, Fault{pos, fmt.Sprintf(format, args...)})
}

// Count is the number of faults, kept or not.
func (f *Faults) Count() int { return len(f.List) + f.More }

// Err is nil when nothing is wrong, else a *[Faults] sorted by line.
func (f *Faults) Err() error {
	if f.Count() == 0 {
		return nil
	}
	out := &Faults{Keep: f.Keep, More: f.More, List: slices.Clone(f.List)}
	slices.SortStableFunc(out.List, func(a, b Fault) int {
		return cmp.Or(cmp.Compare(a.Pos.Line, b.Pos.Line), cmp.Compare(a.Pos.Column, b.Pos.Column))
	})
	return out
}

// Error lists the faults, a line each.
func (f *Faults) Error() string {
	var b strings.Builder
	for i, x := range f.List {
		if i > 0 {
			b.WriteByte('\n')
		}
		b.WriteString(x.Error())
	}
	if f.More > 0 {
		fmt.Fprintf(&b, "\nand %d more", f.More)
	}
	return b.String()
}
