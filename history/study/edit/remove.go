package edit

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
)

func (t *text) remove(p Path) error {
	if err := t.index(); err != nil {
		return err
	}
	x, n := t.find(p)
	if n < len(p) {
		return fmt.Errorf("there is no %s", p[:n+1])
	}
	switch {
	case x.dotted():
		for _, k := range x.keys {
			if err := t.remove(p.with(k)); err != nil {
				return err
			}
		}
	case x.parent.kind == array || x.parent.kind == inline:
		t.removeEntry(x)
	default:
		var own []*expr
		comments := 0
		for _, e := range t.exprs {
			if under(e.item.path, x.path) {
				own = append(own, e)
				comments += len(t.commentsIn(e.lines))
			}
		}
		for _, e := range slices.Backward(own) {
			t.removeLines(e, comments == 0)
		}
	}
	return nil
}

// removeLines takes away a header or a key with its value; comments stay. Where
// none does, the empty line above a header goes too. Places before stay as they are.
func (t *text) removeLines(e *expr, whole bool) {
	lines := e.lines
	kept := t.commentsIn(lines)
	if len(kept) > 0 {
		indent := string(t.data[lines.from:e.span.from])
		s := indent + strings.Join(kept, t.newline+indent)
		end := len(bytes.TrimRight(t.data[lines.from:lines.to], "\r\n"))
		t.splice(span{lines.from, lines.from + end}, s)
		return
	}
	if above := bytes.LastIndexByte(t.data[:max(0, lines.from-1)], '\n') + 1; whole && e.owner == nil && lines.from > t.start() && !t.filled(max(above, t.start())) {
		lines.from = max(above, t.start())
	}
	t.splice(lines, "")
}

// cut is a range and what takes its place.
type cut struct {
	span
	s string
}

// spliceAll makes cuts, in the order of the file, on the lines of one key, and puts
// comments that stood in them on lines of their own above it.
func (t *text) spliceAll(cuts []cut, comments []string) {
	for _, c := range slices.Backward(cuts) {
		t.splice(c.span, c.s)
	}
	for _, e := range t.exprs {
		if len(comments) > 0 && e.lines.from <= cuts[0].from && cuts[0].from < e.lines.to {
			indent := string(t.data[e.lines.from:e.span.from])
			t.splice(span{e.lines.from, e.lines.from}, indent+strings.Join(comments, t.newline+indent)+t.newline)
			return
		}
	}
}

// removeEntry takes an entry from an array or an inline table, with one comma.
func (t *text) removeEntry(x *item) {
	up := x.parent
	for up.dotted() {
		up = up.parent
	}
	list := up.pairs()
	i := slices.Index(list, x)
	comments := t.commentsIn(x.pair)
	var cuts []cut
	if comma := t.skip(x.pair.to); t.byteAt(comma) == ',' {
		if comma == t.blanks(x.pair.to) {
			cuts = []cut{{t.tidy(span{x.pair.from, comma + 1}), ""}}
		} else {
			cuts = []cut{{x.pair, ""}, {span{comma, comma + 1}, ""}}
		}
	} else if i > 0 {
		comma = t.skip(list[i-1].pair.to)
		if t.blanks(comma+1) == x.pair.from {
			cuts = []cut{{span{comma, x.pair.to}, ""}}
		} else {
			cuts = []cut{{span{comma, comma + 1}, ""}, {t.tidy(x.pair), ""}}
		}
	} else {
		cuts = []cut{{t.tidy(x.pair), ""}}
	}
	t.spliceAll(cuts, comments)
}

// tidy widens what is cut: to its whole lines where nothing else stands on them,
// else by the blanks behind it, or at the end of a line by those before it.
func (t *text) tidy(s span) span {
	end := t.blanks(s.to)
	if c := t.byteAt(end); c != '\n' && c != '\r' {
		return span{s.from, end}
	}
	start := s.from
	for start > 0 && (t.data[start-1] == ' ' || t.data[start-1] == '\t') {
		start--
	}
	if start > 0 && t.data[start-1] == '\n' {
		return span{start, t.lineEnd(end)}
	}
	return span{start, end}
}
