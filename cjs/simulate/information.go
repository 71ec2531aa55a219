package simulate

import (
	"slices"

	"example.org/unseen/cjs/model"
	"example.org/unseen/likelihood"
	"example.org/unseen/likelihood/linear"
)

// information is what a sample could tell under a model, settled without a fit:
// the expected information at the coefficients nearest to the truth of the
// releases and re-releases there were. Where it says nothing on a quantity no
// method could; where it does, one that gives no answer has missed.
type information struct {
	p *model.Problem
	x []float64
	s *linear.Eigen
	// numbers are those of some fish of each class, the constant first.
	numbers [][][]float64
}

// nearBound: probabilities nearer to 0 or 1 are taken to be this far from it,
// for on the logit scale nothing tells them.
const nearBound = 0.01

// someFish is how many fish of a class stand for all, if they differ.
const someFish = 24

// informationOf is that of a sample for the model of p.
func (t *Truth) informationOf(sample *Sample, p *model.Problem) *information {
	n := &information{p: p, numbers: make([][][]float64, len(p.Classes))}
	of := make([][]int, len(p.Classes))
	for r, g := range p.ClassOf {
		if g >= 0 {
			of[g] = append(of[g], r)
		}
	}
	fish := make([][]int, len(of))
	for g, all := range of {
		for i := range min(len(all), someFish) {
			r := all[i*len(all)/min(len(all), someFish)]
			z := []float64{1}
			for _, col := range p.Z {
				z = append(z, col[r])
			}
			fish[g] = append(fish[g], r)
			n.numbers[g] = append(n.numbers[g], z)
		}
	}
	n.nearest(t, sample, fish)
	if s, ok := linear.Decompose(n.expected(), p.Design.Columns); ok {
		n.s = s
	}
	return n
}

// nearest sets x to the coefficients whose predictors come nearest, by least
// squares, to those of the true probabilities of some fish of each class.
func (n *information) nearest(t *Truth, sample *Sample, fish [][]int) {
	d := n.p.Design
	c := d.Columns
	a, b := make([]float64, c*c), make([]float64, c)
	for g := range fish {
		for i, r := range fish[g] {
			truth := t.probabilities(sample, r, d.Layout)
			for slot, es := range d.Slots[g] {
				link := d.Links[g][slot]
				if link.Kind == likelihood.Fixed {
					continue
				}
				eta := link.Inverse(truth[slot])
				for _, e := range es {
					v := e.Value * n.numbers[g][i][e.Number]
					b[e.Column] += v * eta
					for _, f := range es {
						a[e.Column*c+f.Column] += v * f.Value * n.numbers[g][i][f.Number]
					}
				}
			}
		}
	}
	n.x = make([]float64, c)
	if c > 0 {
		linear.SolveRidge(a, b, c, 1e-10, n.x)
	}
}

// probabilities are the true ones of record r of a sample by the slots of l,
// and its movement; those at a bound are a little inside.
func (t *Truth) probabilities(sample *Sample, r int, l *likelihood.Layout) []float64 {
	c := &t.Cohorts[sample.Of[r]]
	out := make([]float64, l.Slots())
	shifted := func(link likelihood.Link, p float64, effect func(*Covariate) float64) float64 {
		shift := 0.0
		for j := range t.Covariates {
			x := &t.Covariates[j]
			shift += effect(x) * (sample.Histories.Columns[j].Value[r] - x.Mean)
		}
		return min(1-nearBound, max(nearBound, moved(link, p, shift)))
	}
	for k, s := range c.Survival {
		out[l.Survival(k)] = shifted(t.link(k), s, func(x *Covariate) float64 { return at(x.Survival, k) })
	}
	for b, p := range c.Detection {
		out[l.Detection(b)] = shifted(likelihood.Link{}, p, func(x *Covariate) float64 { return at(x.Detection, b) })
	}
	if l.Km == nil {
		return out
	}
	for i := range l.LawCount() {
		from, _ := l.Stretch(i)
		out[l.Drift(i)], out[l.Spread(i)] = c.Movement.over(from)
	}
	if l.Resting {
		out[l.Rest()] = min(1-nearBound, max(nearBound, c.Movement.Rest))
		out[l.RestKm()] = max(1, c.Movement.RestKm)
	}
	return out
}

// at is v[i], 0 where there is no v.
func at(v []float64, i int) float64 {
	if v == nil {
		return 0
	}
	return v[i]
}

// expected is the expected information at x, Columns × Columns.
func (n *information) expected() []float64 {
	p := n.p
	if p.Running() && !p.Windowed() && !p.Layout.Resting {
		return likelihood.ExpectedInformation(p.Design, n.x, p.Releases(), p.TestUnits())
	}
	// Where fish rest, or rows do not always work, there is no such expectation;
	// the river alone will do.
	data := &likelihood.Data{Units: slices.Clone(p.TestUnits())}
	for g := range p.Classes {
		for _, z := range n.numbers[g] {
			let := make([]float64, p.Layout.Sites())
			for k, m := range p.Classes[g].Released {
				let[k] = float64(m) / float64(len(n.numbers[g]))
			}
			data.Units = append(data.Units, likelihood.Expected(p.Design, n.x, g, z, let))
		}
	}
	var at likelihood.Point
	likelihood.NewCJS(p.Design, data).Eval(n.x, 2, &at)
	for i := range at.H {
		at.H[i] = -at.H[i]
	}
	return at.H
}

// tells whether the sample could tell a sum of products of probabilities.
func (n *information) tells(means []likelihood.Mean) bool {
	q := likelihood.Quantity{Means: means}
	var at likelihood.Point
	q.Eval(n.p.Design, n.x, 1, &at)
	return n.determines(at.G)
}

// determines is whether the sample could tell what has the gradient grad.
func (n *information) determines(grad []float64) bool {
	// An information that cannot be had excuses nobody.
	return n.s == nil || n.s.Determines(grad)
}

// classes are those of the fish of a cohort, of all with "".
func (n *information) classes(cohort string) (out []int) {
	i := slices.Index(n.p.Categories, model.Cohort)
	for g := range n.p.Classes {
		if cohort == "" || i < 0 || n.p.Levels[i][n.p.Classes[g].Level[i]] == cohort {
			out = append(out, g)
		}
	}
	return out
}

// mean is a product for the mean fish of class g, w times.
func (n *information) mean(g int, w float64, factors []likelihood.Factor) likelihood.Mean {
	m := likelihood.Mean{Class: g, Factors: factors, Each: w / float64(len(n.numbers[g])), N: len(n.numbers[g])}
	for i := range n.p.Design.Numbers - 1 {
		var col []float64
		for _, z := range n.numbers[g] {
			col = append(col, z[i+1])
		}
		m.Z = append(m.Z, col)
	}
	return m
}

func (n *information) survival(of string, reach int) bool {
	return n.tells([]likelihood.Mean{n.mean(n.classes(of)[0], 1, []likelihood.Factor{{Slot: n.p.Layout.Survival(reach)}})})
}

// detection is of so many rows from first on together.
func (n *information) detection(of string, first, rows int) bool {
	var missed []likelihood.Factor
	for b := first; b < first+rows; b++ {
		missed = append(missed, likelihood.Factor{Slot: n.p.Layout.Detection(b), Miss: true})
	}
	return n.tells([]likelihood.Mean{n.mean(n.classes(of)[0], 1, missed)})
}

func (n *information) passed(of string, site int) bool {
	var means []likelihood.Mean
	var fish float64
	for _, g := range n.classes(of) {
		for e, m := range n.p.Classes[g].New[:site] {
			var way []likelihood.Factor
			for k := e; k < site; k++ {
				way = append(way, likelihood.Factor{Slot: n.p.Layout.Survival(k)})
			}
			if m > 0 {
				means = append(means, n.mean(g, float64(m), way))
				fish += float64(m)
			}
		}
	}
	for i := range means {
		means[i].Scale = 1 / fish
	}
	return n.tells(means)
}

func (n *information) coefficient(i int) bool {
	grad := make([]float64, n.p.Design.Columns)
	grad[i] = 1
	return n.determines(grad)
}
