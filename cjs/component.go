package cjs

import (
	"slices"

	"example.org/unseen/cjs/internal/maximum"
	"example.org/unseen/likelihood"
)

// Where cohorts share no coefficient the log-likelihood is a sum of
// components that have nothing to do with each other, and a quantity of one cohort
// has its profile in its own alone: all others stay at their maximum.

// componentOf is the component that q has to do with; −1 where that is no small one.
func (f *Fit) componentOf(q *likelihood.Quantity) int {
	if !f.ample() || f.running != nil || len(q.Means) == 0 {
		return -1
	}
	at := f.components().of[q.Means[0].Class]
	for i := range q.Means {
		if f.split.of[q.Means[i].Class] != at {
			return -1
		}
	}
	if at < 0 || 2*len(f.split.columns[at]) > f.Parameters {
		return -1
	}
	return at
}

// ample tells whether profiles are sought component by component. Of few
// coefficients there is nothing to gain; on thin data, where the likelihood has
// other hills, the way to a limit matters.
func (f *Fit) ample() bool {
	return f.Parameters > thinColumns && f.EffectiveSample > thinSample
}

func (f *Fit) components() *components {
	if f.split != nil {
		return f.split
	}
	d := f.Problem.Design
	f.split = &components{of: make([]int, d.Classes()), base: maximum.Along(d, f.X, f.limits, f.moved, farAlong)}
	owner := make([]int, d.Columns) // column → the first class of its component
	for j := range owner {
		owner[j] = -1
	}
	first := make([]int, d.Classes()) // class → the first class of its component
	for g, slots := range d.Slots {
		first[g] = g
		for _, es := range slots {
			for _, e := range es {
				if was := owner[e.Column]; was >= 0 && was != first[g] {
					from, to := max(was, first[g]), min(was, first[g])
					replace(owner, from, to)
					replace(first[:g+1], from, to)
				}
				owner[e.Column] = first[g]
			}
		}
	}
	for g := range first {
		f.split.of[g] = -1
		if first[g] < g {
			f.split.of[g] = f.split.of[first[g]]
			continue
		}
		var columns []int
		for j, o := range owner {
			if o == g {
				columns = append(columns, j)
			}
		}
		if len(columns) > 0 {
			f.split.of[g] = len(f.split.columns)
			f.split.columns = append(f.split.columns, columns)
		}
	}
	return f.split
}

func replace(v []int, from, to int) {
	for i := range v {
		if v[i] == from {
			v[i] = to
		}
	}
}

// makeComponent is the fit of component at alone, where the whole has it; of two
// components where with is another.
func (f *Fit) makeComponent(at, with int) *component {
	columns := f.split.columns[at]
	if with != at {
		columns = slices.Sorted(slices.Values(slices.Concat(columns, f.split.columns[with])))
	}
	in := func(class int) bool { return f.split.of[class] == at || f.split.of[class] == with }
	problem := *f.Problem
	problem.Design, problem.Columns = f.Problem.Design.Component(columns, in), pick(f.Problem.Columns, columns)
	data := f.data.Of(in)
	problem.Data = data
	out := &Fit{Problem: &problem, Options: f.Options, X: pick(f.X, columns), Parameters: f.Parameters, EffectiveSample: f.EffectiveSample,
		machine: &machine{tries: f.tries, data: data, z: f.z}}
	for i, d := range f.limits {
		rows := slices.DeleteFunc(slices.Clone(f.moved[i]), func(r maximum.Row) bool { return !in(r.Class) })
		if len(rows) > 0 {
			out.limits, out.moved = append(out.limits, pick(d, columns)), append(out.moved, rows)
		}
	}
	out.design = problem.Design.WithLimits(out.limits)
	out.LogLikelihood = out.atPeak().p.F
	return &component{out, columns}
}

// whole is x, coefficients of the component, with the others of f at their maximum;
// nil of nil.
func (p *component) whole(f *Fit, x []float64) []float64 {
	if x == nil {
		return nil
	}
	out := slices.Clone(f.split.base)
	for i, j := range p.columns {
		out[j] = x[i]
	}
	return out
}

func pick[T any](all []T, at []int) []T {
	out := make([]T, len(at))
	for i, j := range at {
		out[i] = all[j]
	}
	return out
}
