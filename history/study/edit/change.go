package edit

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
)

func (t *text) set(p Path, v any) error {
	if err := t.index(); err != nil {
		return err
	}
	x, n := t.find(p)
	if n == len(p) {
		return t.replace(x, v)
	}
	return t.create(x, p, n, v)
}

// create adds what is missing of a path behind x, its first n steps.
func (t *text) create(x *item, p Path, n int, v any) error {
	for i := len(p) - 1; i > n; i-- {
		k, ok := p[i].(string)
		if !ok {
			return fmt.Errorf("there is no %s", p[:i])
		}
		v = Table{{k, v}}
	}
	k, ok := p[n].(string)
	switch {
	case !ok && len(x.list) > 0:
		return fmt.Errorf("there is no %s: the list has %d", p[:n+1], len(x.list))
	case !ok:
		return fmt.Errorf("there is no %s: %s is no list", p[:n+1], p[:n])
	case x.kind == inline:
		t.insertPair(x, k, v)
	case x.kind == table:
		t.insertKey(x, k, v)
	case len(x.list) > 0:
		return fmt.Errorf("%s is a list; the path lacks the place in it", p[:n])
	default:
		return fmt.Errorf("%s is no table, so it has no %s", p[:n], k)
	}
	return nil
}

// replace writes a value anew. What is alike in a list or a table is left alone.
func (t *text) replace(x *item, v any) error {
	if fields, ok := v.(Table); ok && (x.kind == table || x.kind == inline) {
		return t.mergeTable(x, fields)
	}
	if list, ok := entries(v); ok && (x.kind == array || x.kind == tables) {
		return t.mergeList(x, list)
	}
	if x.kind == table || x.kind == tables || x.dotted() {
		return fmt.Errorf("%s is made of tables; remove it before it can be something else", x.path)
	}
	s := rendered(v)
	if x.kind == value && same(string(t.data[x.span.from:x.span.to]), s) {
		return nil
	}
	t.spliceAll([]cut{{x.span, s}}, t.commentsIn(x.span))
	return nil
}

func (t *text) mergeTable(x *item, fields Table) error {
	for _, f := range fields {
		if err := t.set(x.path.with(f.Name), f.Value); err != nil {
			return err
		}
	}
	for _, k := range x.keys {
		if !slices.ContainsFunc(fields, func(f Key) bool { return f.Name == k }) {
			if err := t.remove(x.path.with(k)); err != nil {
				return err
			}
		}
	}
	return nil
}

func (t *text) mergeList(x *item, list []any) error {
	have := len(x.list)
	for i, v := range list {
		do, p := t.set, x.path.with(i)
		if i >= have {
			do, p = t.append, x.path
		}
		if err := do(p, v); err != nil {
			return err
		}
	}
	for i := have - 1; i >= len(list); i-- {
		if err := t.remove(x.path.with(i)); err != nil {
			return err
		}
	}
	return nil
}

func (t *text) append(p Path, v any) error {
	if err := t.index(); err != nil {
		return err
	}
	x, n := t.find(p)
	if n < len(p) {
		if fields, ok := v.(Table); ok {
			return t.create(x, p, n, []Table{fields})
		}
		return t.create(x, p, n, []any{v})
	}
	switch x.kind {
	case value:
		t.splice(span{x.span.to, x.span.to}, ", "+rendered(v)+"]")
		t.splice(span{x.span.from, x.span.from}, "[")
	case array:
		t.addEntry(x, rendered(v))
	case tables:
		fields, ok := v.(Table)
		if !ok {
			return fmt.Errorf("%s is a list of tables; %v is none", x.path, v)
		}
		t.insertSection(t.sectionEnd(x.list[len(x.list)-1]), t.section(x.path, fields, true))
	default:
		return fmt.Errorf("%s is a table, no list", x.path)
	}
	return nil
}

// rendered is [render] of a value that was looked at before.
func rendered(v any) string {
	s, err := render(v)
	if err != nil {
		panic(err)
	}
	return s
}

func (t *text) insertPair(x *item, k string, v any) {
	name := key(k)
	for ; x.dotted(); x = x.parent {
		name = key(x.path[len(x.path)-1].(string)) + "." + name
	}
	t.addEntry(x, name+" = "+rendered(v))
}

// addEntry adds s behind the last entry of an array or an inline table; on a line
// of its own where the last one has one.
func (t *text) addEntry(x *item, s string) {
	list := x.pairs()
	if len(list) == 0 {
		inner := span{x.span.from + 1, x.span.to - 1}
		switch {
		case t.skip(inner.from) == t.blanks(inner.from) && x.kind == inline:
			t.splice(inner, " "+s+" ")
		case t.skip(inner.from) == t.blanks(inner.from):
			t.splice(inner, s)
		default:
			t.splice(span{inner.from, inner.from}, s)
		}
		return
	}
	last := list[len(list)-1].pair
	comma := t.skip(last.to)
	if t.byteAt(comma) != ',' {
		comma = -1
	}
	// What follows on the line: a comma, then blanks, then its end or a comment.
	end := t.blanks(last.to)
	if comma == end {
		end = t.blanks(end + 1)
	}
	if c := t.byteAt(end); c != '\n' && c != '\r' && c != '#' || !t.startsLine(last.from) {
		t.splice(span{last.to, last.to}, ", "+s)
		return
	}
	line := t.lineEnd(end)
	start := bytes.LastIndexByte(t.data[:last.from], '\n') + 1
	s = string(t.data[start:last.from]) + s
	if comma >= 0 && comma < line {
		s += ","
	}
	t.splice(span{line, line}, s+t.newline)
	if comma < 0 || comma >= line {
		t.splice(span{last.to, last.to}, ",")
	}
}

// startsLine tells whether only blanks stand before a place on its line.
func (t *text) startsLine(at int) bool {
	start := max(bytes.LastIndexByte(t.data[:at], '\n')+1, t.start())
	return t.blanks(start) == at
}

// insertKey adds a key to a table that has a header or dotted keys, or to the top
// of the file; a table there gets a header of its own.
func (t *text) insertKey(x *item, k string, v any) {
	if x == t.root {
		list, ok := v.([]Table)
		if fields, one := v.(Table); one {
			t.insertSection(len(t.data), t.section(Path{k}, fields, false))
			return
		} else if ok && len(list) > 0 {
			var all []string
			for i, fields := range list {
				if i > 0 {
					all = append(all, "")
				}
				all = append(all, t.section(Path{k}, fields, true)...)
			}
			t.insertSection(len(t.data), all)
			return
		}
	}
	last, within := t.lastKey(x)
	if last == nil && x.head == nil && x != t.root {
		first := slices.IndexFunc(t.exprs, func(e *expr) bool { return under(e.item.path, x.path) })
		t.insertSection(t.above(t.exprs[first]), t.section(x.path, Table{{k, v}}, false))
		return
	}
	name := key(k)
	for i := len(x.path) - 1; i >= within; i-- {
		name = key(x.path[i].(string)) + "." + name
	}
	at, indent := t.top(), ""
	switch {
	case last != nil:
		at, indent = last.lines.to, string(t.data[last.lines.from:last.span.from])
		name += strings.Repeat(" ", max(0, last.equal-last.span.from-1-len(name)))
	case x.head != nil:
		at, indent = x.head.lines.to, string(t.data[x.head.lines.from:x.head.span.from])
	case at < len(t.data):
		t.insertLines(at, []string{name + " = " + rendered(v), ""})
		return
	}
	t.insertLines(at, []string{indent + name + " = " + rendered(v)})
}

// lastKey is the last key written of a table, and how many steps of the table's
// path the body it is written in already holds.
func (t *text) lastKey(x *item) (last *expr, within int) {
	within = len(x.path)
	for _, e := range t.exprs {
		if e.owner == nil || e.owner != x && (x.head != nil || x == t.root || !under(e.item.path, x.path) || under(e.owner.path, x.path)) {
			continue
		}
		last, within = e, len(e.owner.path)
	}
	return last, within
}

// top is where keys at the top of a file that has none go.
func (t *text) top() int {
	if len(t.exprs) == 0 {
		return len(t.data)
	}
	return t.above(t.exprs[0])
}

// above is where the lines of e begin, with the comment right above them.
func (t *text) above(e *expr) int {
	at := e.lines.from
	for at > t.start() {
		line := max(bytes.LastIndexByte(t.data[:at-1], '\n')+1, t.start())
		comment := t.blanks(line) // it may be the end of a text of several lines
		if !slices.ContainsFunc(t.comments, func(c span) bool { return c.from == comment }) {
			break
		}
		at = line
	}
	return at
}

// sectionEnd is where the lines of a table end, with the comment right below them
// unless that belongs to what follows.
func (t *text) sectionEnd(x *item) int {
	end := 0
	for _, e := range t.exprs {
		if under(e.item.path, x.path) {
			end = max(end, e.lines.to)
		}
	}
	for at := end; at < len(t.data); at = t.lineEnd(at) {
		switch t.byteAt(t.blanks(at)) {
		case '#':
			continue
		case '\r', '\n':
			return at
		}
		return end
	}
	return len(t.data)
}

func (t *text) section(p Path, fields Table, list bool) []string {
	var names []string
	for _, x := range p {
		if k, ok := x.(string); ok {
			names = append(names, key(k))
		}
	}
	head := "[" + strings.Join(names, ".") + "]"
	if list {
		head = "[" + head + "]"
	}
	out := []string{head}
	for _, f := range fields {
		out = append(out, key(f.Name)+" = "+rendered(f.Value))
	}
	return out
}

// insertSection adds lines with an empty one between them and others.
func (t *text) insertSection(at int, lines []string) {
	if at > t.start() {
		before := bytes.TrimRight(t.data[:at], " \t")
		if n := bytes.Count(before[len(bytes.TrimRight(before, "\r\n")):], []byte("\n")); n < 2 {
			lines = append([]string{""}, lines...)
		}
	}
	if at < len(t.data) && t.filled(at) {
		lines = append(lines, "")
	}
	t.insertLines(at, lines)
}

// insertLines adds lines where one begins; a last line without an end stays so.
func (t *text) insertLines(at int, lines []string) {
	s := strings.Join(lines, t.newline)
	if at > t.start() && t.data[at-1] != '\n' {
		s = t.newline + s
	} else {
		s += t.newline
	}
	t.splice(span{at, at}, s)
}
