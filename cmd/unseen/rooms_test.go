package main

import (
	"go/ast"
	"go/types"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/tools/go/packages"
	"gonum.org/v1/gonum/graph/simple"
	"gonum.org/v1/gonum/graph/topo"
)

// mostFiles is how many files a room may have.
const mostFiles = 25

// TestFilesOfARoomPointOneWay: within a package no two files use each other, not
// even by way of a third.
func TestFilesOfARoomPointOneWay(t *testing.T) {
	if testing.Short() {
		t.Skip("types of all packages; the whole run has them")
	}
	rooms, err := packages.Load(&packages.Config{Dir: "../..", Mode: packages.NeedName | packages.NeedFiles | packages.NeedSyntax | packages.NeedTypes | packages.NeedTypesInfo | packages.NeedImports | packages.NeedExportFile}, "./...")
	require.NoError(t, err)
	require.Greater(t, len(rooms), 50)
	for _, r := range rooms {
		require.Empty(t, r.Errors, r.PkgPath)
		assert.LessOrEqual(t, len(r.GoFiles), mostFiles, r.PkgPath)
		for _, c := range circles(r) {
			assert.Fail(t, "files that use each other", "%s: %s", r.PkgPath, strings.Join(c, ", "))
		}
	}
}

// circles are the files of a package that use each other: its functions, methods,
// types, variables and constants.
func circles(r *packages.Package) (out [][]string) {
	g, files := simple.NewDirectedGraph(), []string{}
	file := func(n ast.Node) string { return filepath.Base(r.Fset.Position(n.Pos()).Filename) }
	node := func(name string) simple.Node {
		if !slices.Contains(files, name) {
			files = append(files, name)
		}
		return simple.Node(slices.Index(files, name))
	}
	for id, o := range r.TypesInfo.Uses {
		if o.Pkg() != r.Types || o.Parent() != r.Types.Scope() && !isMethod(o) {
			continue
		}
		from, to := file(id), filepath.Base(r.Fset.Position(o.Pos()).Filename)
		if from != to {
			g.SetEdge(g.NewEdge(node(from), node(to)))
		}
	}
	for _, c := range topo.TarjanSCC(g) {
		if len(c) == 1 {
			continue
		}
		var names []string
		for _, n := range c {
			names = append(names, files[n.ID()])
		}
		slices.Sort(names)
		out = append(out, names)
	}
	return out
}

func isMethod(o types.Object) bool {
	f, ok := o.(*types.Func)
	return ok && f.Signature().Recv() != nil
}
