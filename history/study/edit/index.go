package edit

import (
	"bytes"
	"fmt"
	"slices"

	"github.com/pelletier/go-toml/v2/unstable"
)

// text is a file on its way from one change to the next.
type text struct {
	data []byte
	root *item
	// exprs are the headers and the keys with their values, in the order of the file.
	exprs    []*expr
	comments []span
	// newline is what ends its lines.
	newline string
}

// span is a range of bytes, the end not included.
type span struct{ from, to int }

// expr is a header or a key with its value.
type expr struct {
	span  span  // from the key or bracket to the end of the value or bracket
	lines span  // the whole lines it stands on, with the last one's end
	equal int   // where = stands; of a key
	item  *item // the table it begins, or the value
	owner *item // of a key: the table in whose body it is written
}

type kind int

const (
	value  kind = iota
	array       // [ … ]
	inline      // { … }, and what dotted keys make inside
	table       // under headers or of dotted keys
	tables      // under [[ ]] headers
)

// Path leads to a value: a key is a string, the place in a list a whole number
// from 0. Path{"site", 1, "km"} is the km of the second [[site]].
type Path []any

// item is a value of the file, or what holds some.
type item struct {
	kind   kind
	path   Path
	parent *item
	span   span  // of value, array and inline; none of what dotted keys make in { … }
	pair   span  // key and value; of an entry of an array as span
	head   *expr // the header, of a table that has one
	keys   []string
	child  map[string]*item
	list   []*item
}

func (x *item) at(k string, kind kind) *item {
	if c := x.child[k]; c != nil {
		return c
	}
	c := &item{kind: kind, path: x.path.with(k), parent: x}
	if x.child == nil {
		x.child = map[string]*item{}
	}
	x.child[k] = c
	x.keys = append(x.keys, k)
	return c
}

func (p Path) with(x any) Path { return append(p[:len(p):len(p)], x) }

// index reads the text anew; it is known to be TOML. A mark before the first
// line belongs to no key: blanks stand for it while it is read, as long as it is.
func (t *text) index() error {
	t.root, t.exprs, t.comments, t.newline = &item{kind: table}, nil, nil, "\n"
	if i := bytes.IndexByte(t.data, '\n'); i > 0 && t.data[i-1] == '\r' {
		t.newline = "\r\n"
	}
	data := t.data
	if t.start() > 0 {
		data = append([]byte("   "), data[len(bom):]...)
	}
	p := unstable.Parser{KeepComments: true}
	p.Reset(data)
	body := t.root
	for p.NextExpression() {
		e := p.Expression()
		if deep(e) > mostDeep {
			return fmt.Errorf("its keys are nested more than %d deep", mostDeep)
		}
		t.note(e)
		switch e.Kind {
		case unstable.KeyValue:
			t.keyValue(e, body)
		case unstable.Table, unstable.ArrayTable:
			body = t.header(e)
		}
	}
	return p.Error()
}

// mostDeep is how deep keys and lists are nested at most: each keeps its path.
const mostDeep = 200

// deep is how deep an expression, or a value, is nested.
func deep(n *unstable.Node) (d int) {
	switch n.Kind {
	case unstable.KeyValue:
		d = deep(n.Value())
		fallthrough
	case unstable.Table, unstable.ArrayTable:
		for it := n.Key(); it.Next(); {
			d++
		}
	case unstable.Array, unstable.InlineTable:
		for it := n.Children(); it.Next(); {
			d = max(d, 1+deep(it.Node()))
		}
	}
	return d
}

const bom = "\xef\xbb\xbf"

// start is where the first line begins.
func (t *text) start() int {
	if bytes.HasPrefix(t.data, []byte(bom)) {
		return len(bom)
	}
	return 0
}

func (t *text) header(e *unstable.Node) *item {
	x, from, to := t.root, -1, 0
	for it := e.Key(); it.Next(); {
		k := it.Node()
		if from < 0 {
			from = int(k.Raw.Offset)
		}
		to = int(k.Raw.Offset + k.Raw.Length)
		list := e.Kind == unstable.ArrayTable && it.IsLast()
		if list {
			x = x.at(string(k.Data), tables)
			x.list = append(x.list, &item{kind: table, path: x.path.with(len(x.list)), parent: x})
		} else {
			x = x.at(string(k.Data), table)
		}
		if x.kind == tables {
			x = x.list[len(x.list)-1]
		}
	}
	from = bytes.LastIndexByte(t.data[:from], '[')
	if e.Kind == unstable.ArrayTable {
		from--
	}
	to += bytes.IndexByte(t.data[to:], ']') + 1
	if e.Kind == unstable.ArrayTable {
		to++
	}
	x.head = t.expr(span{from, to}, x)
	return x
}

func (t *text) expr(s span, x *item) *expr {
	e := &expr{span: s, item: x}
	e.lines.from = max(bytes.LastIndexByte(t.data[:s.from], '\n')+1, t.start())
	e.lines.to = t.lineEnd(s.to)
	t.exprs = append(t.exprs, e)
	return e
}

// lineEnd is where the next line begins.
func (t *text) lineEnd(from int) int {
	if i := bytes.IndexByte(t.data[from:], '\n'); i >= 0 {
		return from + i + 1
	}
	return len(t.data)
}

func (t *text) keyValue(n *unstable.Node, body *item) {
	x, equal := t.pair(n, body)
	e := t.expr(x.pair, x)
	e.equal, e.owner = equal, body
}

// pair reads key = value into a table.
func (t *text) pair(n *unstable.Node, into *item) (x *item, equal int) {
	whole := span{int(n.Raw.Offset), int(n.Raw.Offset + n.Raw.Length)}
	x = into
	end := 0
	for it := n.Key(); it.Next(); {
		k := it.Node()
		end = int(k.Raw.Offset + k.Raw.Length)
		// Keys before the last hold the others; where they stand in an inline
		// table they are part of it.
		kind := into.kind
		if it.IsLast() {
			kind = value
		}
		x = x.at(string(k.Data), kind)
	}
	equal = end + bytes.IndexByte(t.data[end:], '=')
	t.value(n.Value(), x, equal+1)
	x.pair = whole
	return x, equal
}

// value reads a value that begins at from, or behind blanks there.
func (t *text) value(n *unstable.Node, x *item, from int) {
	from = t.skip(from)
	switch n.Kind {
	case unstable.Array:
		x.kind = array
		at := from + 1
		for it := n.Children(); it.Next(); {
			if it.Node().Kind == unstable.Comment {
				continue
			}
			c := &item{path: x.path.with(len(x.list)), parent: x}
			t.value(it.Node(), c, t.afterComma(at))
			x.list = append(x.list, c)
			at = c.span.to
		}
		x.span = span{from, t.afterComma(at) + 1}
	case unstable.InlineTable:
		x.kind = inline
		at := from + 1
		for it := n.Children(); it.Next(); {
			if it.Node().Kind == unstable.Comment {
				continue
			}
			c, _ := t.pair(it.Node(), x)
			at = c.span.to
		}
		x.span = span{from, t.afterComma(at) + 1}
	default:
		x.span = span{int(n.Raw.Offset), int(n.Raw.Offset + n.Raw.Length)}
	}
	x.pair = x.span
}

// skip passes blanks, line ends and comments.
func (t *text) skip(at int) int {
	for at < len(t.data) {
		switch t.data[at] {
		case ' ', '\t', '\r', '\n':
			at++
		case '#':
			at = t.lineEnd(at)
		default:
			return at
		}
	}
	return at
}

// blanks passes blanks.
func (t *text) blanks(at int) int {
	for at < len(t.data) && (t.data[at] == ' ' || t.data[at] == '\t') {
		at++
	}
	return at
}

// afterComma passes what may stand between two entries.
func (t *text) afterComma(at int) int {
	at = t.skip(at)
	if t.byteAt(at) == ',' {
		at = t.skip(at + 1)
	}
	return at
}

// note takes down where the comments of an expression stand.
func (t *text) note(n *unstable.Node) {
	for ; n != nil; n = n.Next() {
		if n.Kind == unstable.Comment {
			t.comments = append(t.comments, span{int(n.Raw.Offset), int(n.Raw.Offset + n.Raw.Length)})
		}
		t.note(n.Child())
	}
}

// commentsIn are the comments of a range, without the ends of their lines.
func (t *text) commentsIn(s span) (out []string) {
	for _, c := range t.comments {
		if s.from <= c.from && c.to <= s.to {
			out = append(out, string(bytes.TrimRight(t.data[c.from:c.to], "\r")))
		}
	}
	return out
}

// splice puts s in the place of a range; the index is void then.
func (t *text) splice(at span, s string) {
	t.data = slices.Concat(t.data[:at.from], []byte(s), t.data[at.to:])
}

// byteAt is the byte at a place, 0 (no byte of TOML) at the end of the text.
func (t *text) byteAt(at int) byte {
	if at >= len(t.data) {
		return 0
	}
	return t.data[at]
}

// filled tells whether something stands on the line that begins at.
func (t *text) filled(at int) bool {
	c := t.byteAt(t.blanks(at))
	return c != 0 && c != '\n' && c != '\r'
}

// find is the deepest item on a path, and how much of the path leads there.
func (t *text) find(p Path) (x *item, n int) {
	x = t.root
	for n < len(p) {
		var next *item
		switch k := p[n].(type) {
		case string:
			next = x.child[k]
		case int:
			if k < len(x.list) {
				next = x.list[k]
			}
		}
		if next == nil {
			break
		}
		x, n = next, n+1
	}
	return x, n
}

// under tells whether p is q or leads on from it.
func under(p, q Path) bool { return len(p) >= len(q) && slices.Equal(p[:len(q)], q) }

// dotted tells of a table that dotted keys make in an inline one.
func (x *item) dotted() bool { return x.kind == inline && x.span.to == 0 }

// pairs are the keys with values that are written in an inline table, and the
// entries of an array, as they stand.
func (x *item) pairs() (out []*item) {
	out = append(out, x.list...)
	for _, k := range x.keys {
		if c := x.child[k]; c.dotted() {
			out = append(out, c.pairs()...)
		} else {
			out = append(out, c)
		}
	}
	slices.SortFunc(out, func(a, b *item) int { return a.pair.from - b.pair.from })
	return out
}
