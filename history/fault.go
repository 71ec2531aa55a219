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
	File         string // its path as given
	Line, Column int    // counted from 1; 0 where not known
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
	Pos     Pos    // where it is
	Message string // what is wrong, and what would be right
	// Also are further lines of the file with a fault of the same kind, and
	// AlsoMore counts those beyond.
	Also     []int
	AlsoMore int
}

func (f Fault) Error() string {
	s := f.Pos.String() + ": " + f.Message
	n := len(f.Also) + f.AlsoMore
	if n == 0 {
		return s
	}
	lines := make([]string, len(f.Also))
	for i, line := range f.Also {
		lines[i] = fmt.Sprint(line)
	}
	if f.AlsoMore > 0 {
		lines = append(lines, "…")
	}
	return fmt.Sprintf("%s; likewise %d more, lines %s", s, n, strings.Join(lines, ", "))
}

// Faults collects all that is wrong with a file, so that it can be corrected
// at once. The zero value keeps every fault; with Keep > 0 the first Keep
// are kept and the others only counted, and faults of a kind are told once with
// their lines where there are more than three of them.
type Faults struct {
	Keep int     // the most that are kept
	List []Fault // those kept, in order
	More int     // how many more there were

	kinds map[string]*ofKind
}

// ofKind are the faults whose messages differ in nothing but what stands in quotes.
type ofKind struct {
	at    []int // where they stand in the list
	lines []int
	more  int
}

// fewOfKind are told one by one, linesOfKind of more are told.
const fewOfKind, linesOfKind = 3, 10

// Add notes a fault.
func (f *Faults) Add(pos Pos, format string, args ...any) {
	if f.Keep > 0 && len(f.List) >= f.Keep && f.More > 100_000 {
		f.More++
		return
	}
	message := fmt.Sprintf(format, args...)
	if f.Keep > 0 {
		if f.kinds == nil {
			f.kinds = map[string]*ofKind{}
		}
		name := pos.File + "\x00" + unquoted(message)
		k := f.kinds[name]
		switch {
		case k != nil && len(k.at) == fewOfKind && len(k.lines) < linesOfKind:
			k.lines = append(k.lines, pos.Line)
			return
		case k != nil && len(k.at) == fewOfKind:
			k.more++
			return
		case len(f.List) >= f.Keep:
			f.More++
			return
		case k == nil:
			k = &ofKind{}
			f.kinds[name] = k
		}
		k.at = append(k.at, len(f.List))
	}
	f.List = append(f.List, Fault{Pos: pos, Message: message})
}

// unquoted is a message without what stands in quotes.
func unquoted(s string) string {
	b := make([]byte, 0, len(s))
	in := false
	for i := 0; i < len(s); i++ {
		switch {
		case in && s[i] == '\\':
			i++
		case s[i] == '"':
			in = !in
		case !in:
			b = append(b, s[i])
		}
	}
	return string(b)
}

// Count is the number of faults, kept or not.
func (f *Faults) Count() int {
	n := len(f.List) + f.More
	for _, k := range f.kinds {
		n += len(k.lines) + k.more
	}
	for _, x := range f.List {
		n += len(x.Also) + x.AlsoMore
	}
	return n
}

// Err is nil when nothing is wrong, else a *[Faults] sorted by line.
func (f *Faults) Err() error {
	if f.Count() == 0 {
		return nil
	}
	out := &Faults{Keep: f.Keep, More: f.More, List: slices.Clone(f.List)}
	var told []int // in the one before
	for _, k := range f.kinds {
		if len(k.lines) == 0 {
			continue
		}
		first := &out.List[k.at[0]]
		for _, i := range k.at[1:] {
			first.Also = append(first.Also, f.List[i].Pos.Line)
			told = append(told, i)
		}
		first.Also = append(first.Also, k.lines...)
		first.AlsoMore = k.more
	}
	slices.Sort(told)
	for _, i := range slices.Backward(told) {
		out.List = slices.Delete(out.List, i, i+1)
	}
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
	if b.Len() == 0 {
		return "a fault that nothing is told of"
	}
	return b.String()
}
