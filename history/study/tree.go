package study

import (
	"bytes"
	"cmp"
	"errors"
	"maps"
	"regexp"
	"slices"
	"sort"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"example.org/unseen/history"
)

// Pos is a place in the study file, for messages.
type Pos = history.Pos

// node is a value of the file with the place of its key (or, in a list, its
// own): a string, int64, float64, bool, time.Time, toml.LocalDate,
// toml.LocalDateTime, toml.LocalTime, []*node or *table.
type node struct {
	pos   Pos
	value any
}

// table is a TOML table; its keys stand in the order of the file.
type table struct {
	pos   Pos
	title string // as messages call it: "[fish]"
	keys  []string
	nodes map[string]*node
	asked []string // every key the decoder asked for: the known ones
}

// decimalComma is a value such as 0,7.
var decimalComma = regexp.MustCompile(`=\s*-?\d+,\d`)

// parseTree reads TOML into a tree with positions.
func parseTree(name string, data []byte) (*table, error) {
	values := map[string]any{}
	if err := toml.Unmarshal(data, &values); err != nil {
		pos := Pos{File: name, Line: 1, Column: 1}
		var de *toml.DecodeError
		if errors.As(err, &de) {
			if line, column := de.Position(); line > 0 {
				pos.Line, pos.Column = line, column
			}
		}
		var f history.Faults
		hint := ""
		if lines := bytes.Split(data, []byte("\n")); decimalComma.Match(lines[min(pos.Line, len(lines))-1]) {
			hint = "; numbers are written with a point, as in 0.7"
		}
		f.Add(pos, "the file cannot be read: %s%s", strings.TrimPrefix(err.Error(), "toml: "), hint)
		return nil, f.Err()
	}
	x := index(name, data)
	if x.tooLong >= 0 {
		var f history.Faults
		f.Add(x.place(x.tooLong), "this key, with those that it stands in, is longer than %d characters; no key of a study is", longestPath)
		return nil, f.Err()
	}
	return x.table(values, "", Pos{File: name, Line: 1, Column: 1}, ""), nil
}

// places knows where in the file each value's key stands, by path.
type places struct {
	file  string
	lines []int // offset of each line's start
	at    map[string]int
	count map[string]int // tables of each list of tables so far
	// tooLong is the offset of the first value whose path is too long; -1 where
	// there is none.
	tooLong int
}

// longestPath is the longest path that is kept, in bytes: each value has its own.
const longestPath = 500

func keyPath(path, key string) string { return path + "\x00" + key }

func itemPath(path string, i int) string { return path + "\x01" + strconv.Itoa(i) }

// index finds the positions with the library's own parser; the document is
// known to be valid.
func index(file string, data []byte) *places {
	x := &places{file: file, lines: []int{0}, at: map[string]int{}, count: map[string]int{}, tooLong: -1}
	for i, c := range data {
		if c == '\n' {
			x.lines = append(x.lines, i+1)
		}
	}
	var p unstable.Parser
	p.Reset(data)
	prefix := ""
	for p.NextExpression() {
		e := p.Expression()
		switch e.Kind {
		case unstable.Table, unstable.ArrayTable:
			prefix = ""
			for it := e.Key(); it.Next(); {
				k := it.Node()
				prefix = x.key(prefix, k)
				if e.Kind == unstable.ArrayTable && it.IsLast() {
					x.count[prefix]++
				}
				if n := x.count[prefix]; n > 0 {
					prefix = x.mark(prefix, itemPath(prefix, n-1), k.Raw)
				}
			}
		case unstable.KeyValue:
			x.keyValue(prefix, e)
		}
	}
	return x
}

// mark notes where a path stands and gives it back, or the one that it leads on
// from where it is too long.
func (x *places) mark(from, path string, r unstable.Range) string {
	if len(path) > longestPath {
		if x.tooLong < 0 {
			x.tooLong = int(r.Offset)
		}
		return from
	}
	if _, ok := x.at[path]; !ok {
		x.at[path] = int(r.Offset)
	}
	return path
}

func (x *places) key(from string, k *unstable.Node) string {
	return x.mark(from, keyPath(from, string(k.Data)), k.Raw)
}

func (x *places) keyValue(prefix string, e *unstable.Node) {
	for it := e.Key(); it.Next(); {
		prefix = x.key(prefix, it.Node())
	}
	x.inside(prefix, e.Value())
}

func (x *places) inside(path string, v *unstable.Node) {
	switch v.Kind {
	case unstable.InlineTable:
		for it := v.Children(); it.Next(); {
			x.keyValue(path, it.Node())
		}
	case unstable.Array:
		i := 0
		for it := v.Children(); it.Next(); i++ {
			n, item := it.Node(), itemPath(path, i)
			if n.Raw.Length > 0 || len(item) > longestPath {
				item = x.mark(path, item, n.Raw)
			}
			x.inside(item, n)
		}
	}
}

// pos is where a path stands, or else where what holds it stands.
func (x *places) pos(path string, parent Pos) Pos {
	off, ok := x.at[path]
	if !ok {
		return parent
	}
	return x.place(off)
}

// place is the place of an offset.
func (x *places) place(off int) Pos {
	line := sort.SearchInts(x.lines, off+1)
	return Pos{File: x.file, Line: line, Column: off - x.lines[line-1] + 1}
}

func (x *places) table(values map[string]any, path string, pos Pos, title string) *table {
	t := &table{pos: pos, title: title, nodes: make(map[string]*node, len(values))}
	for key, v := range values {
		t.nodes[key] = x.node(v, keyPath(path, key), pos, key)
	}
	t.keys = slices.SortedFunc(maps.Keys(values), func(a, b string) int {
		p, q := t.nodes[a].pos, t.nodes[b].pos
		return cmp.Or(cmp.Compare(p.Line, q.Line), cmp.Compare(p.Column, q.Column), cmp.Compare(a, b))
	})
	return t
}

func (x *places) node(v any, path string, parent Pos, title string) *node {
	n := &node{pos: x.pos(path, parent), value: v}
	switch v := v.(type) {
	case map[string]any:
		n.value = x.table(v, path, n.pos, title)
	case []any:
		list := make([]*node, len(v))
		for i := range v {
			list[i] = x.node(v[i], itemPath(path, i), n.pos, title)
		}
		n.value = list
	}
	return n
}

// trimBOM drops the mark some editors put before the first line.
func trimBOM(data []byte) []byte { return bytes.TrimPrefix(data, []byte("\xef\xbb\xbf")) }
