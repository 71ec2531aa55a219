package edit

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"sort"
	"strings"
	"testing"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
	"github.com/stretchr/testify/require"

	"example.org/unseen/testdata/pieces"
)

// awkward are texts in every manner TOML knows.
var awkward = []string{
	"",
	"# nothing but a comment",
	"\xef\xbb\xbf# a mark before it\ntitle = \"x\"\n",
	"\xef\xbb\xbf[fish]\nfile = \"x\"",
	"title = \"Hollin # Water\" # said here\ntime_zone = 'Europe/Dublin'\n\n# the table\n[fish]   # tagged\nfile    = \"fish.csv\"\ncolumns = { tag = \"Tag\", released = { join = [\"Date\", \"Time\"] } } # two\nkinds   = { batch = \"category\" }\n\n[sightings]\nfiles = [\n  \"a.csv\", # first\n  \"b.csv\"  # second\n  # none\n]\n",
	"[[site]]\nname = \"Mill Lade\"\nkm = 58.0 # by map\n# still the lade\n\n# the ford\n[[site]]\n  name = \"Alder Ford\"\n  km   = 36.6\n  rows = { upper = [\"north\", \"middle\"], lower = [\"south\"] }\n  [[site.clock]]\n  from = 2025-04-20\n  seconds = -340\n[[site.clock]]\nseconds = 5 # late\n\n[[site]]\nname = \"Tidehead\"\nclock = [{ from = 2025-04-20, to = 2025-04-22T01:02:03Z, seconds = -340 }]",
	"fish.file = \"x\"\r\nfish.columns.tag = \"T\" # dotted\r\nfish . columns . \"let go\" = '''a\r\n# no comment\r\nb'''\r\n\r\n[rules]\r\ntest_tags = [\"1\"]\r\noff = [\r\n\t\"a\",\r\n\t\"b\", # c\r\n]\r\n",
	"a = { b.c = 1, b.d = [ [1, 2], [ ], [\n 3 # three\n , # comma\n 4] ], e = {} }\nn = []\nm = [ # all\n]\n[x.y]\n[x.z]\nv = \"\"\"\n# text \\\"\"\"\n\"\"\"\n",
	"\"ключ # key\" = \"Große Quelle \\\"x\\\" \\u00e9\"\n'q\"' = 1\n\"\" = 2\n[\"a.b\".'c d']\nx=1\n",
	"[fish.columns]\ntag = \"Tag\"\n[fish.kinds]\nbatch='category'\n\n\n\n[[hold]]\n\n[[hold]]\nwhere.cohort = 3\n",
	"a = [\n  { x = 1 }, # one\n  { x = 2,\n    y = 3, # TOML 1.1\n  },\n]\nb = [1,2,3,]\nc = [\"a\" # first\n, \"b\" # second\n]\nd = 1979-05-27 07:32:00\n",
	"n = [nan, -inf]\nm = [ # all\n]\n[x.y]\n",
	"a = \"\"\"\n# text\"\"\"\n[q.z]\n[[x.y.z]]\n",
	"[[a]]\n ", // blanks at the end, and no end of the line
	"[[a]]\nx = 1\n# one\n\t",
	"[[a]]\n[a.z.y]\nx = 1\n[[a]]\n[a.z.y]\nx = 2\n",
	"[[a]]\n[[a.b]]\n[a.b.c]\nd = 1\n[[a.b]]\n[[a]]\n[q]\n[a.z]\nx = 1\n",
}

// plain is a value of ours as the reader of TOML would give it; numbers are all
// of one type, one that is none equals another, and tables that hold nothing are
// as good as none.
func plain(v any) any {
	switch v := v.(type) {
	case float64:
		if math.IsNaN(v) {
			return "no number"
		}
	case int:
		return float64(v)
	case int64:
		return float64(v)
	case Raw:
		x, _ := decode(string(v))
		return plain(x)
	case Table:
		m := map[string]any{}
		for _, k := range v {
			m[k.Name] = k.Value
		}
		return plain(m)
	case map[string]any:
		m := map[string]any{}
		for k, x := range v {
			x = plain(x)
			if m2, ok := x.(map[string]any); ok && len(m2) == 0 {
				continue
			}
			if l, ok := x.([]any); ok && len(l) == 0 {
				continue
			}
			m[k] = x
		}
		return m
	}
	if list, ok := entries(v); ok {
		out := []any{}
		for _, x := range list {
			out = append(out, plain(x))
		}
		return out
	}
	return v
}

// oracle makes the change in what the text means instead of in the text.
func oracle(root any, p Path, change string, v any) any {
	if len(p) == 0 {
		if change != "append" {
			return v
		}
		switch x := root.(type) {
		case nil:
			return []any{v}
		case []any:
			return append(slices.Clone(x), v)
		}
		return []any{root, v}
	}
	if i, ok := p[0].(int); ok {
		list := slices.Clone(root.([]any))
		if len(p) == 1 && change == "remove" {
			return slices.Delete(list, i, i+1)
		}
		list[i] = oracle(list[i], p[1:], change, v)
		return list
	}
	m := map[string]any{}
	if old, ok := root.(map[string]any); ok {
		for k, x := range old {
			m[k] = x
		}
	}
	k := p[0].(string)
	if len(p) == 1 && change == "remove" {
		delete(m, k)
	} else {
		m[k] = oracle(m[k], p[1:], change, v)
	}
	return m
}

// commentsOf are the comments of a text, sorted, as the parser's own walk finds them.
func commentsOf(data []byte) (out []string) {
	p := unstable.Parser{KeepComments: true}
	p.Reset(bytes.TrimPrefix(data, []byte(bom)))
	var walk func(n *unstable.Node)
	walk = func(n *unstable.Node) {
		for ; n != nil; n = n.Next() {
			if n.Kind == unstable.Comment {
				out = append(out, strings.TrimRight(string(n.Data), "\r"))
			}
			walk(n.Child())
		}
	}
	for p.NextExpression() {
		walk(p.Expression())
	}
	sort.Strings(out)
	return out
}

// subsequence tells whether a can be had from b by leaving bytes out.
func subsequence(a, b []byte) bool {
	for _, c := range b {
		if len(a) > 0 && a[0] == c {
			a = a[1:]
		}
	}
	return len(a) == 0
}

func randomValue(r *rand.Rand, deep int) any {
	texts := []string{"", "a", "Große \"Quelle\"", "# none", "line\r\nbreak\t\x7f\x00", `C:\Temp\`, "'''", "]", "}"}
	switch n := r.IntN(12); {
	case n < 3:
		return texts[r.IntN(len(texts))]
	case n < 4:
		return r.IntN(100) - 50
	case n < 5:
		return float64(r.IntN(100)) / 8
	case n < 6:
		return r.IntN(2) == 0
	case n < 7:
		return []Raw{"2025-04-14T09:00:00", "2025-04-14", "[[1, 2], 'x']", "{ a.b = 1 }", "07:00:00"}[r.IntN(5)]
	case n < 9 && deep > 0:
		list := make([]any, r.IntN(4))
		for i := range list {
			list[i] = randomValue(r, deep-1)
		}
		return list
	case deep > 0:
		t := Table{}
		for _, k := range r.Perm(5)[:r.IntN(4)] {
			t = append(t, Key{[]string{"a", "b", "x y", "ключ", "1"}[k], randomValue(r, deep-1)})
		}
		return t
	}
	return "z"
}

// randomPath leads into v, or one step out of it.
func randomPath(r *rand.Rand, v any) (p Path) {
	for {
		switch x := v.(type) {
		case map[string]any:
			keys := []string{}
			for k := range x {
				keys = append(keys, k)
			}
			sort.Strings(keys)
			if len(keys) == 0 || r.IntN(6) == 0 {
				p = p.with([]string{"new", "neu \"x\"", "schlüssel"}[r.IntN(3)])
				if r.IntN(3) == 0 {
					p = p.with("deeper")
				}
				return p
			}
			k := keys[r.IntN(len(keys))]
			p, v = p.with(k), x[k]
		case []any:
			if len(x) == 0 {
				return p
			}
			i := r.IntN(len(x))
			p, v = p.with(i), x[i]
		default:
			return p
		}
		if r.IntN(3) == 0 {
			return p
		}
	}
}

// refusable tells whether a change may be refused: what is to be removed is not
// there, the path leads through what is no table, or a table or a list of tables
// is to be something else.
func refusable(v any, p Path, change string, to any) bool {
	for i, x := range p {
		switch k := x.(type) {
		case string:
			m, ok := v.(map[string]any)
			if !ok {
				return true
			}
			if v, ok = m[k]; !ok {
				return change == "remove"
			}
		case int:
			if v = v.([]any)[k]; i == len(p)-1 && change == "remove" {
				return false
			}
		}
	}
	table := func(v any) bool {
		switch v := v.(type) {
		case map[string]any, Table:
			return true
		case []any:
			return slices.ContainsFunc(v, func(x any) bool { _, ok := x.(map[string]any); return ok })
		}
		return false
	}
	return change != "remove" && table(v)
}

// tryOne makes a change drawn from seed and holds it to the oracle; what it did is
// "" where the text cannot take the change.
func tryOne(t *testing.T, data []byte, seed uint64) string {
	r := rand.New(rand.NewPCG(seed, 7))
	var before map[string]any
	require.NoError(t, toml.Unmarshal(bytes.TrimPrefix(data, []byte(bom)), &before))
	p := randomPath(r, before)
	change := []string{"set", "append", "remove"}[r.IntN(3)]
	v := randomValue(r, 2)
	x := &text{data: bytes.Clone(data)}
	said := fmt.Sprintf("%s %v %#v", change, []any(p), v)
	var err error
	switch change {
	case "set":
		err = Set(p, v).make(x)
	case "append":
		err = Append(p, v).make(x)
	case "remove":
		err = Remove(p).make(x)
	}
	if err != nil {
		require.True(t, refusable(before, p, change, v), "%s: %v\n%s", said, err, data)
		return ""
	}
	var after map[string]any
	require.NoError(t, toml.Unmarshal(bytes.TrimPrefix(x.data, []byte(bom)), &after), "%s\n%q\n%q", said, data, x.data)
	want := plain(oracle(before, p, change, plain(v)))
	if !reflect.DeepEqual(want, plain(after)) {
		require.Equal(t, want, plain(after), "%s\n%s\n--- became ---\n%s", said, data, x.data)
	}
	require.Equal(t, commentsOf(data), commentsOf(x.data), "%s\n%s\n--- became ---\n%s", said, data, x.data)
	within(t, data, x.data, p, said)
	return change
}

// within holds a change to the lines of its own key: what stands above and below
// them is the same, but for an empty line. What only adds leaves every byte.
func within(t *testing.T, before, after []byte, p Path, said string) {
	if subsequence(before, after) {
		return
	}
	old := &text{data: before}
	require.NoError(t, old.index())
	own := span{len(before), 0}
	_, n := old.find(p)
	for ; n > 0 && own.from > own.to; n-- {
		for _, e := range old.exprs {
			if under(e.item.path, p[:n]) || under(p, e.item.path) && e.owner != nil {
				from := e.lines.from
				if e.owner == nil { // a header; the comment right above goes with it
					from = old.above(e)
				}
				own.from, own.to = min(own.from, from), max(own.to, e.lines.to)
			}
		}
	}
	require.LessOrEqual(t, own.from, own.to, "%s\n%s\n--- became ---\n%s", said, before, after)
	above, below := bytes.TrimRight(before[:own.from], " \t\r\n"), before[own.to:]
	require.True(t, bytes.HasPrefix(after, above) && bytes.HasSuffix(after[len(above):], below),
		"%s changed what stands elsewhere\n%s\n--- became ---\n%s", said, before, after)
}

func TestAChangeMeansWhatItSaysAndTouchesNothingElse(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	done := map[string]int{}
	for i, doc := range awkward {
		for seed := range uint64(1500) {
			done[tryOne(t, []byte(doc), uint64(i)<<32|seed)]++
		}
	}
	t.Log(done)
	for _, c := range []string{"set", "append", "remove"} {
		require.Greater(t, done[c], 1000, "hardly any change was made: %v", done)
	}
}

// Several changes after one another, each held to the oracle.
func TestChangesOnChanges(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	for i, doc := range awkward {
		for seed := range uint64(40) {
			data := []byte(doc)
			r := rand.New(rand.NewPCG(uint64(i), seed))
			for range 12 {
				x := &text{data: bytes.Clone(data)}
				var v map[string]any
				require.NoError(t, toml.Unmarshal(bytes.TrimPrefix(data, []byte(bom)), &v))
				draw := r.Uint64()
				if tryOne(t, data, draw) == "" {
					continue
				}
				q := rand.New(rand.NewPCG(draw, 7))
				p, c, val := randomPath(q, v), q.IntN(3), any(nil)
				val = randomValue(q, 2)
				require.NoError(t, []Change{Set(p, val), Append(p, val), Remove(p)}[c].make(x))
				data = x.data
			}
		}
	}
}

func FuzzChange(f *testing.F) {
	for i, doc := range awkward {
		f.Add([]byte(doc), uint64(i))
	}
	f.Fuzz(func(t *testing.T, data []byte, seed uint64) {
		defer pieces.Hurry()()
		changed(t, data, seed)
	})
}

func TestComposedChanges(t *testing.T) {
	pieces.Each(t, 500, func(c *pieces.Composer) { changed(t, []byte(c.Text(awkward...)), c.Uint64()) })
	pieces.Each(t, 2, func(c *pieces.Composer) { changed(t, []byte(c.Long(awkward...)), c.Uint64()) })
}

// changed is tryOne for any text.
func changed(t *testing.T, data []byte, seed uint64) {
	var v map[string]any
	if toml.Unmarshal(bytes.TrimPrefix(data, []byte(bom)), &v) != nil || (&text{data: data}).index() != nil {
		return
	}
	tryOne(t, data, seed)
}

// Keys in keys in keys are refused before they take all memory.
func TestNestedTooDeep(t *testing.T) {
	for _, doc := range []string{strings.Repeat("a.", 1<<14) + "a = 1", "[" + strings.Repeat("a.", 1<<14) + "a]\n", "a = " + strings.Repeat("[", 5000) + strings.Repeat("]", 5000)} {
		require.ErrorContains(t, Set(Path{"b"}, 1).make(&text{data: []byte(doc)}), "nested more than 200 deep")
	}
	require.NoError(t, Set(Path{"b"}, 1).make(&text{data: []byte(strings.Repeat("a.", 150) + "a = 1")}))
}
