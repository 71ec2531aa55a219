package cjs

import (
	"math"

	"example.org/unseen/cjs/model"
	"example.org/unseen/likelihood"
)

// Unwatched is what passed a site while no row of it was at work.
type Unwatched struct {
	// Passed is the number of fish of the cohort that passed the site, at any
	// time up to the end of the data ([Passed.PassedFish]); NaN where that cannot
	// be had.
	Passed float64
	// Spells are the times in which no row was at work, in short slices, as far
	// as fish come; the slices of all cohorts are the same.
	Spells []Spell
}

// Spell is a stretch of time, Unix milliseconds, and the share of the passages up
// to the end of the data that fell into it.
type Spell struct {
	From, To int64   // the end is not included
	Share    float64 // from 0 to 1
}

// Share is that of the passages that fell into all spells.
func (u *Unwatched) Share() (sum float64) {
	for _, s := range u.Spells {
		sum += s.Share
	}
	return sum
}

const (
	sliceMs    = 60 * 60 * 1000 // a slice of a spell
	mostSlices = 500
	// beyond: where all of the passages but this share have come, none more is
	// looked for.
	beyond = 1e-6
)

// Unwatched is what of a cohort (its index) passed a site below the first while no
// row of it was at work, by the law of travel and the survival of the fit; without
// spells where some row always was.
func (f *Fit) Unwatched(site, cohort int) Unwatched {
	if f.Check() != nil || site < 1 || site >= f.Problem.Layout.Sites() || cohort < 0 || cohort >= len(f.Problem.Histories.Cohorts) {
		return Unwatched{Passed: math.NaN()}
	}
	p := f.Problem
	out := Unwatched{Passed: f.passedFishOf(site, cohort)}
	end := int64(math.MaxInt64)
	if p.Running() {
		end = p.AsOf
	}
	spells := p.Unwatched(site, end)
	if len(spells) == 0 {
		return out
	}
	come := f.passages(site, cohort)
	all := come.by(end)
	if !(all > 0) {
		return out
	}
	for _, s := range spells {
		from, to := s[0], s[1]
		step := int64(sliceMs)
		if to < math.MaxInt64 {
			step = max(step, (to-from)/mostSlices)
		}
		before := come.by(from)
		for from < to && before < 1-beyond {
			next := min(to, from+step)
			by := come.by(next)
			out.Spells = append(out.Spells, Spell{from, next, (by - before) / all})
			from, before = next, by
		}
	}
	return out
}

// passedFishOf is the number of fish of a cohort that passed a site.
func (f *Fit) passedFishOf(site, cohort int) float64 {
	h := f.Problem.Histories
	for i := range f.Passed {
		row := &f.Passed[i]
		name, alone := "", len(row.Of) == 0 && len(h.Cohorts) == 1
		if len(row.Of) == 1 && row.Of[0].Name == model.Cohort {
			name = row.Of[0].Level
		}
		if row.Site == site && (alone || name != "" && name == h.Cohorts[cohort]) {
			return row.PassedFish.Value
		}
	}
	return math.NaN()
}

// passages are the newly released fish that can come to a site.
type passages struct {
	to   int
	p    *likelihood.Passing
	fish []passer
	all  float64 // Σ weight
}

// passer are fish that are alike; weight is their number times their survival to
// the site.
type passer struct {
	class, entry int
	z            []float64
	released     int64
	weight       float64
}

// passages are those of a cohort.
func (f *Fit) passages(site, cohort int) *passages {
	p, h := f.Problem, f.Problem.Histories
	out := &passages{to: site, p: likelihood.NewPassing(f.design, f.X)}
	type key struct {
		class, entry int
		released     int64
	}
	index := map[key]int{}
	for i, g := range p.ClassOf {
		entry := int(h.Entry[i])
		if g < 0 || entry >= site || int(h.Cohort[i]) != cohort || !h.New(i) {
			continue
		}
		z := make([]float64, p.Design.Numbers)
		z[0] = 1
		for n := range p.Z {
			z[n+1] = p.Z[n][i]
		}
		out.p.Enter(int(g), z, true)
		w := float64(h.Weight(i)) * out.p.Survived(entry, site)
		out.all += w
		k := key{int(g), entry, h.Released[i]}
		if j, ok := index[k]; ok && len(p.Z) == 0 {
			out.fish[j].weight += w
			continue
		}
		index[k] = len(out.fish)
		out.fish = append(out.fish, passer{int(g), entry, z, h.Released[i], w})
	}
	return out
}

// by is the share of all their passages that come up to a moment; windows of work
// need the release time of every fish, so each has one.
func (c *passages) by(ms int64) float64 {
	var sum float64
	for i := range c.fish {
		x := &c.fish[i]
		if ms <= x.released {
			continue
		}
		c.p.Enter(x.class, x.z, true)
		sum += x.weight * c.p.By(x.entry, c.to, float64(ms-x.released)/dayMs)
	}
	return sum / c.all // NaN of nobody
}
