package main

import (
	"bytes"
	"encoding/json"
	"go/ast"
	"go/parser"
	"go/token"
	"maps"
	"path/filepath"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/unseen/cmd/unseen/internal/wire"
)

// A schema is made from the Go type of a document: keys and what is required
// from the json tags, descriptions from the comments, the words allowed from
// the constants of a named type. What a type cannot say stands in a schema tag,
// of entries joined by commas: null (a list that may be null), empty (a word
// that may be ""), signed (a whole number below 0), min=1, enum=a|b,
// type=string|number|null, time, words (a text for people, see package speech).

// pair and object are a JSON object whose keys keep their order.
type pair struct {
	key   string
	value any
}

type object []pair

func (o object) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	b.WriteByte('{')
	for i, p := range o {
		if i > 0 {
			b.WriteByte(',')
		}
		for j, x := range []any{p.key, p.value} {
			if j > 0 {
				b.WriteByte(':')
			}
			e := json.NewEncoder(&b)
			e.SetEscapeHTML(false)
			if err := e.Encode(x); err != nil {
				return nil, err
			}
		}
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// generator makes the schema of one document.
type generator struct {
	t      *testing.T
	source map[string]*comments // by folder
	defs   object
	made   map[reflect.Type]bool
}

// schemaOf is the schema of the document of a command.
func (g *generator) schemaOf(kind string, doc reflect.Type) []byte {
	g.defs, g.made = nil, map[reflect.Type]bool{}
	body := g.fields(doc)
	for i, p := range body[1].value.(object) {
		switch p.key {
		case "kind":
			body[1].value.(object)[i].value = object{{"const", "unseen/" + kind}}
		case "version":
			body[1].value.(object)[i].value = object{{"const", wire.Version}}
		}
	}
	all := append(object{
		{"$schema", "https://json-schema.org/draft/2020-12/schema"},
		{"$id", "https://example.org/unseen/schema/" + kind + ".json"},
		{"title", "the document of `unseen " + kind + " --json`, version " + strconv.Itoa(wire.Version)},
	}, body...)
	if g.defs != nil {
		all = append(all, pair{"$defs", g.defs})
	}
	line, err := json.Marshal(all)
	require.NoError(g.t, err)
	var out bytes.Buffer
	require.NoError(g.t, json.Indent(&out, line, "", "  "))
	// Marshal has written <, > and & of the descriptions as escapes.
	text := strings.NewReplacer(`\u003c`, "<", `\u003e`, ">", `\u0026`, "&").Replace(out.String())
	return []byte(text + "\n")
}

// fields is the schema of a struct, which begins with type and properties.
func (g *generator) fields(t reflect.Type) object {
	properties, required := object{}, []string{}
	g.addFields(t, &properties, &required)
	return object{{"type", "object"}, {"properties", properties}, {"required", required}}
}

func (g *generator) addFields(t reflect.Type, properties *object, required *[]string) {
	for i := range t.NumField() {
		f := t.Field(i)
		name, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		if name == "-" || !f.IsExported() {
			continue
		}
		if f.Anonymous && name == "" {
			g.addFields(f.Type, properties, required)
			continue
		}
		require.NotEmpty(g.t, name, "%s.%s has no json tag", t, f.Name)
		tag := tagOf(f)
		if strings.HasSuffix(name, "sha256") {
			tag["sha256"] = ""
		}
		s := g.value(f.Type, tag)
		if d := g.commentsOf(t).field(t, f.Name); d != "" {
			s = append(s, pair{"description", d})
		}
		*properties = append(*properties, pair{name, s})
		if options != "omitempty" {
			*required = append(*required, name)
		}
	}
}

// tagOf takes a schema tag apart.
func tagOf(f reflect.StructField) map[string]string {
	out := map[string]string{}
	if s := f.Tag.Get("schema"); s != "" {
		for _, w := range strings.Split(s, ",") {
			k, v, _ := strings.Cut(w, "=")
			out[k] = v
		}
	}
	return out
}

var number = reflect.TypeFor[wire.Number]()

// value is the schema of a value of type t.
func (g *generator) value(t reflect.Type, tag map[string]string) object {
	if t == number {
		return object{{"type", []string{"number", "null"}}}
	}
	switch t.Kind() {
	case reflect.Pointer:
		return orNull(g.value(t.Elem(), tag))
	case reflect.Struct:
		return g.named(t, func() object { return g.fields(t) })
	case reflect.Map:
		entries := func() object {
			return object{{"type", "object"}, {"additionalProperties", g.value(t.Elem(), tag)}}
		}
		if t.Name() == "" {
			return entries()
		}
		return g.named(t, entries)
	case reflect.Slice, reflect.Array:
		list := object{{"type", "array"}, {"items", g.value(t.Elem(), without(tag, "null"))}}
		if t.Kind() == reflect.Array {
			list = append(list, pair{"minItems", t.Len()}, pair{"maxItems", t.Len()})
		}
		if _, ok := tag["null"]; ok {
			return orNull(list)
		}
		return list
	case reflect.String:
		return g.word(t, tag)
	case reflect.Interface:
		return object{{"type", strings.Split(tag["type"], "|")}}
	case reflect.Bool:
		return object{{"type", "boolean"}}
	case reflect.Float64:
		return object{{"type", "number"}}
	case reflect.Int, reflect.Int64, reflect.Uint64:
		return integer(tag)
	}
	g.t.Fatalf("no schema for a %s", t)
	return nil
}

func (g *generator) word(t reflect.Type, tag map[string]string) object {
	words := g.commentsOf(t).constants[t.Name()]
	if list, ok := tag["enum"]; ok {
		words = strings.Split(list, "|")
	}
	if _, ok := tag["empty"]; ok {
		words = append(words[:len(words):len(words)], "")
	}
	s := object{{"type", "string"}}
	if _, ok := tag["sha256"]; ok {
		s = append(s, pair{"pattern", "^[0-9a-f]{64}$"})
	}
	if _, ok := tag["time"]; ok {
		s = append(s, pair{"format", "date-time"})
	}
	if words != nil {
		return object{{"enum", words}}
	}
	return s
}

func integer(tag map[string]string) object {
	s := object{{"type", "integer"}}
	if list, ok := tag["enum"]; ok {
		var of []json.Number
		for _, w := range strings.Split(list, "|") {
			of = append(of, whole(w))
		}
		return object{{"enum", of}}
	}
	if _, ok := tag["signed"]; ok {
		return s
	}
	least := json.Number("0")
	if m, ok := tag["min"]; ok {
		least = whole(m)
	}
	return append(s, pair{"minimum", least})
}

func whole(digits string) json.Number { return json.Number(digits) }

// named puts what has a name into $defs, once, and refers to it.
func (g *generator) named(t reflect.Type, make func() object) object {
	name := strings.ToLower(t.Name()[:1]) + t.Name()[1:]
	if !g.made[t] {
		g.made[t] = true
		s := make()
		if d := g.commentsOf(t).types[t.Name()]; d != "" {
			s = append(object{{"description", d}}, s...)
		}
		for _, p := range g.defs {
			require.NotEqual(g.t, p.key, name, "two types of a document are called %s", t.Name())
		}
		g.defs = append(g.defs, pair{name, s})
	}
	return object{{"$ref", "#/$defs/" + name}}
}

// orNull lets a value be null too.
func orNull(s object) object {
	for i, p := range s {
		switch x := p.value.(type) {
		case string:
			if p.key == "type" {
				out := append(object{}, s...)
				out[i].value = []string{x, "null"}
				return out
			}
		case []string:
			if p.key == "type" {
				return s // may be null already
			}
		}
	}
	return object{{"anyOf", []object{{{"type", "null"}}, s}}}
}

func without(tag map[string]string, key string) map[string]string {
	out := maps.Clone(tag)
	delete(out, key)
	return out
}

// comments are what the sources of a package say of its types.
type comments struct {
	types     map[string]string   // by name
	fields    map[string]string   // by Type.Field
	constants map[string][]string // words by the name of their type
}

// commentsOf reads the package of a type; of one that is not ours, nothing.
func (g *generator) commentsOf(t reflect.Type) *comments {
	folder, ours := strings.CutPrefix(t.PkgPath(), module)
	if !ours {
		return &comments{}
	}
	if c := g.source[folder]; c != nil {
		return c
	}
	c := &comments{map[string]string{}, map[string]string{}, map[string][]string{}}
	files, err := filepath.Glob(filepath.Join("../..", folder, "*.go"))
	require.NoError(g.t, err)
	for _, path := range files {
		if strings.HasSuffix(path, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ParseComments)
		require.NoError(g.t, err)
		for _, d := range f.Decls {
			if d, ok := d.(*ast.GenDecl); ok {
				for _, s := range d.Specs {
					c.add(d, s)
				}
			}
		}
	}
	g.source[folder] = c
	return c
}

func (c *comments) add(d *ast.GenDecl, spec ast.Spec) {
	switch s := spec.(type) {
	case *ast.TypeSpec:
		doc := s.Doc
		if doc == nil {
			doc = d.Doc
		}
		var keys map[string]string
		if fields, ok := s.Type.(*ast.StructType); ok {
			keys = c.addFields(s.Name.Name, fields)
		}
		c.types[s.Name.Name] = said(s.Name.Name, doc.Text(), keys)
	case *ast.ValueSpec:
		if of, ok := s.Type.(*ast.Ident); ok && d.Tok == token.CONST {
			for _, v := range s.Values {
				if lit, ok := v.(*ast.BasicLit); ok && lit.Kind == token.STRING {
					word, _ := strconv.Unquote(lit.Value)
					c.constants[of.Name] = append(c.constants[of.Name], word)
				}
			}
		}
	}
}

// addFields returns the JSON keys of the fields, by name.
func (c *comments) addFields(of string, s *ast.StructType) map[string]string {
	keys := map[string]string{}
	for _, f := range s.Fields.List {
		for _, n := range f.Names {
			if f.Tag != nil {
				tag, _ := strconv.Unquote(f.Tag.Value)
				keys[n.Name], _, _ = strings.Cut(reflect.StructTag(tag).Get("json"), ",")
			}
		}
	}
	for _, f := range s.Fields.List {
		text := f.Doc.Text()
		if text == "" {
			text = f.Comment.Text()
		}
		for _, n := range f.Names {
			c.fields[of+"."+n.Name] = said(n.Name, text, keys)
		}
	}
	return keys
}

func (c *comments) field(t reflect.Type, name string) string { return c.fields[t.Name()+"."+name] }

var identifier = regexp.MustCompile(`\b[A-Z]\w*\b`)

// said is a comment as a description: the name it begins with and a full stop at
// the end go, and fields of Go become keys.
func said(name, text string, keys map[string]string) string {
	text = strings.Join(strings.Fields(text), " ")
	for _, begin := range []string{name + " is ", name + " are ", name + " "} {
		text = strings.TrimPrefix(text, begin)
	}
	text = identifier.ReplaceAllStringFunc(text, func(w string) string {
		if k := keys[w]; k != "" {
			return k
		}
		return w
	})
	return strings.TrimSuffix(text, ".")
}
