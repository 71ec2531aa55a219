package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"go/types"
	"io/fs"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// ofInterfaces are methods that say what the interface says that they are of.
var ofInterfaces = []string{"MarshalJSON", "Error", "Unwrap", "String"}

// small types of so many lines of fields are told of by their own comment.
const small = 3

// undocumented are the exported names of a file without a comment. A comment above a
// run of fields or values is of all of them, to the next empty line.
func undocumented(files *token.FileSet, file *ast.File) (out []string) {
	said := func(groups ...*ast.CommentGroup) bool {
		return slices.ContainsFunc(groups, func(g *ast.CommentGroup) bool { return g != nil })
	}
	note := func(n ast.Node, name string) { out = append(out, files.Position(n.Pos()).String()+" "+name) }
	fields := func(of string, list *ast.FieldList) {
		above, line := false, 0
		for _, f := range list.List {
			has := said(f.Doc, f.Comment) || above && files.Position(f.Pos()).Line == line+1
			for _, n := range f.Names {
				if n.IsExported() && !has {
					note(f, of+"."+n.Name)
				}
			}
			above, line = has, files.Position(f.End()).Line
		}
	}
	for _, d := range file.Decls {
		switch d := d.(type) {
		case *ast.FuncDecl:
			if d.Name.IsExported() && d.Doc == nil && !slices.Contains(ofInterfaces, d.Name.Name) && public(d.Recv) {
				note(d, d.Name.Name)
			}
		case *ast.GenDecl:
			above, line := false, 0
			for _, s := range d.Specs {
				switch s := s.(type) {
				case *ast.TypeSpec:
					if !s.Name.IsExported() {
						continue
					}
					if !said(s.Doc, d.Doc) {
						note(s, s.Name.Name)
					}
					if of, ok := s.Type.(*ast.StructType); ok && len(of.Fields.List) > small {
						fields(s.Name.Name, of.Fields)
					}
				case *ast.ValueSpec:
					has := said(s.Doc, s.Comment, d.Doc) || above && files.Position(s.Pos()).Line == line+1
					for _, n := range s.Names {
						if n.IsExported() && !has {
							note(s, n.Name)
						}
					}
					above, line = has, files.Position(s.End()).Line
				}
			}
		}
	}
	return out
}

// public tells whether a receiver, where there is one, is of an exported type.
func public(receiver *ast.FieldList) bool {
	if receiver == nil {
		return true
	}
	of := receiver.List[0].Type
	if star, ok := of.(*ast.StarExpr); ok {
		of = star.X
	}
	name, ok := of.(*ast.Ident)
	return !ok || name.IsExported()
}

// TestExportedNamesAreExplained: each exported name of the public packages has a
// comment.
func TestExportedNamesAreExplained(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	read := 0
	for _, room := range []string{"cjs", "history", "likelihood"} {
		require.NoError(t, filepath.WalkDir(filepath.Join("../..", room), func(path string, d fs.DirEntry, err error) error {
			switch {
			case err != nil:
				return err
			case d.IsDir() && (d.Name() == "internal" || d.Name() == "testdata"):
				return filepath.SkipDir
			case filepath.Ext(path) != ".go" || strings.HasSuffix(path, "_test.go"):
				return nil
			}
			files := token.NewFileSet()
			file, err := parser.ParseFile(files, path, nil, parser.ParseComments)
			if err != nil || file.Name.Name == "main" {
				return err
			}
			read++
			assert.Empty(t, undocumented(files, file))
			return nil
		}))
	}
	assert.Greater(t, read, 100)
}

func TestUndocumented(t *testing.T) {
	files := token.NewFileSet()
	file, err := parser.ParseFile(files, "x.go", `package x

// A is documented.
type A struct {
	// B and C are both.
	B int
	C int

	D int
	e int
}

// S says it all.
type S struct{ X, Y int }

const (
	K = 1 // first
	L = 2

	M = 3
)

type F struct{}

func G() {}

func (F) String() string { return "" }

var H = 1 // a number
`, parser.ParseComments)
	require.NoError(t, err)
	assert.Equal(t, []string{"x.go:9:2 A.D", "x.go:20:2 M", "x.go:23:6 F", "x.go:25:1 G"}, undocumented(files, file))
}

// TestPackagesSayWhereToBegin: the comment of each public package names what to begin
// with, and examples, all of which there are.
func TestPackagesSayWhereToBegin(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	begin, example := regexp.MustCompile(`Begin with \[([A-Za-z.]+)\]`), regexp.MustCompile(`\bExample\w*`)
	read := 0
	for _, room := range []string{"cjs", "history", "likelihood"} {
		require.NoError(t, filepath.WalkDir(filepath.Join("../..", room), func(path string, d fs.DirEntry, err error) error {
			if err != nil || !d.IsDir() {
				return err
			}
			if d.Name() == "internal" || d.Name() == "testdata" {
				return filepath.SkipDir
			}
			names, err := filepath.Glob(filepath.Join(path, "*.go"))
			if err != nil || len(names) == 0 {
				return err
			}
			files, text, has := token.NewFileSet(), "", map[string]bool{}
			for _, name := range names {
				file, err := parser.ParseFile(files, name, nil, parser.ParseComments)
				if err != nil {
					return err
				}
				if file.Doc != nil {
					text += strings.Join(strings.Fields(file.Doc.Text()), " ")
				}
				for _, d := range file.Decls {
					switch d := d.(type) {
					case *ast.FuncDecl:
						of := ""
						if d.Recv != nil {
							of = strings.TrimPrefix(types.ExprString(d.Recv.List[0].Type), "*") + "."
						}
						has[of+d.Name.Name] = true
					case *ast.GenDecl:
						for _, s := range d.Specs {
							if s, ok := s.(*ast.TypeSpec); ok {
								has[s.Name.Name] = true
							}
						}
					}
				}
			}
			read++
			m := begin.FindStringSubmatch(text)
			if !assert.NotNil(t, m, "%s does not say what to begin with", path) {
				return nil
			}
			assert.True(t, has[m[1]], "%s has no %s", path, m[1])
			shown := example.FindAllString(text, -1)
			assert.NotEmpty(t, shown, "%s names no example", path)
			for _, e := range shown {
				assert.True(t, has[e], "%s has no %s", path, e)
			}
			return nil
		}))
	}
	assert.Equal(t, 30, read, "packages")
}
