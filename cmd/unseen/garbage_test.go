package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"go/ast"
	"go/format"
	"go/token"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"reflect"
	"runtime/debug"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/tools/go/packages"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/assess"
	"example.org/unseen/cjs/compare"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/plan"
	"example.org/unseen/cjs/replicate"
	"example.org/unseen/cjs/simulate"
	"example.org/unseen/cjs/travel"
	"example.org/unseen/history/ingest"
	"example.org/unseen/likelihood"
)

// exportedFile lists what the library exports; see exported.
const exportedFile = "exported_test.go"

// exported writes the list of all functions and types of the public packages.
func exported(t *testing.T) []byte {
	t.Helper()
	rooms, err := packages.Load(&packages.Config{Dir: "../..", Mode: packages.NeedName | packages.NeedSyntax | packages.NeedFiles}, "./history/...", "./cjs/...", "./likelihood/...")
	require.NoError(t, err)
	var imports, list strings.Builder
	for i, r := range rooms {
		if strings.Contains(r.PkgPath, "/internal/") {
			continue
		}
		name, from := fmt.Sprint("p", i), strings.TrimPrefix(r.PkgPath, module)
		before := list.Len()
		for _, f := range r.Syntax {
			for _, d := range f.Decls {
				switch d := d.(type) {
				case *ast.FuncDecl:
					if d.Recv == nil && d.Name.IsExported() && d.Type.TypeParams == nil {
						fmt.Fprintf(&list, "\t{%q, %s.%s},\n", from+"."+d.Name.Name, name, d.Name.Name)
					}
				case *ast.GenDecl:
					for _, s := range d.Specs {
						x, ok := s.(*ast.TypeSpec)
						if !ok || d.Tok != token.TYPE || !x.Name.IsExported() || x.TypeParams != nil {
							continue
						}
						if _, many := x.Type.(*ast.InterfaceType); !many {
							fmt.Fprintf(&list, "\t{%q, new(%s.%s)},\n", from+"."+x.Name.Name, name, x.Name.Name)
						}
					}
				}
			}
		}
		if list.Len() > before {
			fmt.Fprintf(&imports, "\t%s %q\n", name, r.PkgPath)
		}
	}
	text, err := format.Source([]byte("package main\n\n// Written by go test ./cmd/unseen -run TestNothingExportedPanics -update.\n\nimport (\n" + imports.String() +
		")\n\n// exportedList are the functions of the public packages, and a pointer to each type.\nvar exportedList = []named{\n" + list.String() + "}\n"))
	require.NoError(t, err)
	return text
}

type named struct {
	name string
	is   any
}

// garbageMaker makes values of any type: of nothing, of numbers that are none, of
// lengths that do not match, and of what other calls gave.
type garbageMaker struct {
	*rand.Rand
	made map[reflect.Type][]reflect.Value
}

var (
	garbageWords = []string{"", "x", "profle", "reach", "site", "same", "cohort", "reach + cohort", "\x00\xff", "985141421300001", "3E7.098BCA5D8C",
		"2025-04-04 19:17:56", "passed at Tidehead ± 4", "Alder Ford", "Tidehead", "1e999", strings.Repeat("long ", 300), "川 − ½", "%s%n", "../../x", "parametric", "fork_length_mm", "a=1", "[[site]]\nname = \"x\"\n"}
	garbageNumbers = []float64{0, 1, -1, .5, .95, 95, math.NaN(), math.Inf(1), math.Inf(-1), 1e308, -1e308, 1e-320, 3, 40}
	garbageInts    = []int64{0, 1, 2, 3, -1, -7, 5, 63, 64, 65, 1000, math.MaxInt32, math.MinInt32, math.MaxInt64, math.MinInt64}
	garbageTimes   = []time.Time{{}, time.Unix(0, 0), time.Date(2025, 4, 20, 0, 0, 0, 0, time.UTC), time.Date(292277026596, 1, 1, 0, 0, 0, 0, time.UTC), time.Date(-5000, 1, 1, 0, 0, 0, 0, time.UTC)}
)

func one[T any](g *garbageMaker, of ...T) T { return of[g.IntN(len(of))] }

// value is garbage of a type, deep in another so far.
func (g *garbageMaker) value(t reflect.Type, depth int) reflect.Value {
	if p := g.made[t]; len(p) > 0 && g.IntN(100) < 45 {
		return one(g, p...)
	}
	v := reflect.New(t).Elem()
	switch t {
	case reflect.TypeFor[time.Time]():
		return reflect.ValueOf(one(g, garbageTimes...))
	case reflect.TypeFor[*time.Location]():
		return reflect.ValueOf(one(g, nil, time.UTC))
	case reflect.TypeFor[*rand.Rand]():
		return reflect.ValueOf(one(g, nil, rand.New(rand.NewPCG(1, 2))))
	}
	switch t.Kind() {
	case reflect.Bool:
		v.SetBool(g.IntN(2) == 0)
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		v.SetInt(one(g, garbageInts...))
	case reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64:
		v.SetUint(uint64(one(g, garbageInts...)))
	case reflect.Float64:
		v.SetFloat(one(g, garbageNumbers...))
	case reflect.String:
		v.SetString(one(g, garbageWords...))
	case reflect.Func:
		if g.IntN(2) == 0 {
			v.Set(reflect.MakeFunc(t, func([]reflect.Value) (out []reflect.Value) {
				for i := range t.NumOut() {
					out = append(out, reflect.Zero(t.Out(i)))
				}
				return out
			}))
		}
	case reflect.Interface:
		for _, x := range []any{strings.NewReader(one(g, garbageWords...)), io.Discard, io.EOF, 1, math.NaN()} {
			if reflect.TypeOf(x).Implements(t) && g.IntN(2) == 0 {
				v.Set(reflect.ValueOf(x))
				break
			}
		}
	default:
		if depth < 6 && g.IntN(6) > 0 {
			g.fill(v, depth)
		}
	}
	return v
}

// fill puts garbage into what holds other values.
func (g *garbageMaker) fill(v reflect.Value, depth int) {
	t := v.Type()
	switch t.Kind() {
	case reflect.Slice:
		n := one(g, 0, 1, 1, 2, 3, 4, 7)
		v.Set(reflect.MakeSlice(t, n, n))
		fallthrough
	case reflect.Array:
		for i := range v.Len() {
			v.Index(i).Set(g.value(t.Elem(), depth+1))
		}
	case reflect.Map:
		v.Set(reflect.MakeMap(t))
		for range g.IntN(3) {
			v.SetMapIndex(g.value(t.Key(), depth+1), g.value(t.Elem(), depth+1))
		}
	case reflect.Pointer:
		v.Set(reflect.New(t.Elem()))
		v.Elem().Set(g.value(t.Elem(), depth+1))
	case reflect.Struct:
		for i := range t.NumField() {
			if t.Field(i).IsExported() && g.IntN(3) > 0 {
				v.Field(i).Set(g.value(t.Field(i).Type, depth+1))
			}
		}
	}
}

// keep keeps what a call gave, as garbage for others.
func (g *garbageMaker) keep(x reflect.Value) {
	k := x.Kind()
	if k == reflect.Pointer && !x.IsNil() && x.Elem().Kind() == reflect.Struct && x.Elem().CanSet() {
		g.made[x.Elem().Type()] = append(g.made[x.Elem().Type()], x.Elem())
	}
	if len(g.made[x.Type()]) < 60 && (k == reflect.Pointer && !x.IsNil() || k == reflect.Struct || k == reflect.Slice && x.Type().Elem().Kind() == reflect.Struct) {
		g.made[x.Type()] = append(g.made[x.Type()], x)
	}
}

// sound keeps sound values of a study, so that garbage also meets these.
func (g *garbageMaker) sound(t *testing.T, path string) {
	ctx := t.Context()
	d, err := analysis.Open(ctx, path, ingest.Options{})
	require.NoError(t, err)
	f, err := d.Fit(ctx, model.Spec{}, analysis.Options{})
	require.NoError(t, err)
	p, err := f.Plan()
	require.NoError(t, err)
	forecast, err := plan.New(ctx, p.Plan)
	require.NoError(t, err)
	set, err := replicate.Run(ctx, f.Fit, 1, 3, replicate.Options{Seed: 1})
	require.NoError(t, err)
	in, err := d.Input()
	require.NoError(t, err)
	compared, err := compare.Run(ctx, in, []model.Spec{{Survival: "reach", Detection: "site"}, {Survival: "same", Detection: "site"}}, cjs.Options{}, nil)
	require.NoError(t, err)
	problem := f.Fit.Problem
	kept := []any{d, d.Study, d.Histories, &d.Histories.River, in, f, f.Fit, problem, assess.OfModel(problem), d.Result, problem.Design, problem.Data,
		likelihood.NewCJS(problem.Design, problem.Data), problem.Layout, p, p.Plan, forecast, simulate.TruthOf(f.Fit), simulate.FromFit(f.Fit), set, compared}
	if d.Histories.First != nil {
		r, err := travel.New(ctx, d.Histories, travel.Options{})
		require.NoError(t, err)
		kept = append(kept, r)
	}
	for _, x := range kept {
		g.keep(reflect.ValueOf(x))
	}
}

// call calls a function and says what went wrong, "" for nothing: a panic, no end, or
// an error without words. What has a context is to end with it.
func (g *garbageMaker) call(f reflect.Value, args []reflect.Value) (wrong string) {
	type ended struct {
		out   []reflect.Value
		wrong string
	}
	done := make(chan ended, 1)
	go func() {
		var e ended
		defer func() {
			if x := recover(); x != nil {
				e.wrong = fmt.Sprintf("%v\n%s", x, debug.Stack())
			}
			done <- e
		}()
		if f.Type().IsVariadic() {
			e.out = f.CallSlice(args)
		} else {
			e.out = f.Call(args)
		}
		for _, x := range e.out {
			if err, ok := x.Interface().(error); ok && err.Error() == "" {
				e.wrong = "an error without words"
			}
		}
	}()
	select {
	case e := <-done:
		for _, x := range e.out {
			g.keep(x)
		}
		return e.wrong
	case <-time.After(2 * time.Minute):
		return "it does not end"
	}
}

// TestNothingExportedPanics calls every function and method of the public packages
// with garbage, and methods of what no constructor made.
func TestNothingExportedPanics(t *testing.T) {
	if testing.Short() || raced {
		t.Skip("a thousand functions, again and again")
	}
	now := exported(t)
	if *update {
		require.NoError(t, os.WriteFile(exportedFile, now, 0o644))
	}
	have, err := os.ReadFile(exportedFile)
	require.NoError(t, err)
	require.True(t, bytes.Equal(have, now), "%s is not current: go test ./cmd/unseen -run TestNothingExportedPanics -update", exportedFile)

	g := &garbageMaker{rand.New(rand.NewPCG(20250403, 13)), map[reflect.Type][]reflect.Value{}}
	g.sound(t, "internal/demo/files/study.toml")
	g.sound(t, dipper)
	t.Chdir(t.TempDir())
	var calls []named
	for _, x := range exportedList {
		of := reflect.TypeOf(x.is)
		if of.Kind() == reflect.Func {
			calls = append(calls, x)
			continue
		}
		for i := range of.NumMethod() {
			m := of.Method(i)
			calls = append(calls, named{x.name + "." + m.Name, m.Func.Interface()})
		}
	}
	slices.SortFunc(calls, func(a, b named) int { return strings.Compare(a.name, b.name) })
	require.Greater(t, len(calls), 700)
	told := map[string]bool{}
	for round := range 10 {
		for _, c := range calls {
			f := reflect.ValueOf(c.is)
			ctx, cancel := context.WithTimeoutCause(t.Context(), 2*time.Second, errors.New("enough"))
			method := strings.Count(c.name[strings.LastIndex(c.name, "/")+1:], ".") == 2
			var args []reflect.Value
			for i := range f.Type().NumIn() {
				of := f.Type().In(i)
				a := g.value(of, 0)
				switch {
				case of == reflect.TypeFor[context.Context]():
					a = reflect.ValueOf(ctx)
				case i == 0 && method && of.Kind() == reflect.Pointer && (round < 2 || a.IsNil()):
					a = reflect.New(of.Elem()) // what no constructor made
				}
				args = append(args, a)
			}
			if wrong := g.call(f, args); wrong != "" && !told[c.name] {
				told[c.name] = true
				assert.Fail(t, c.name, "%.300v\n%s", args, wrong)
			}
			cancel()
		}
	}
}
