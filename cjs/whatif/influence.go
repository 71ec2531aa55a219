package whatif

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/internal/cores"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

func (x *Influence) largest() float64 {
	most := 0.0
	for _, v := range x.By {
		if v = math.Abs(v); v > most { // false for NaN
			most = v
		}
	}
	return most
}

// influenceChunk is how many records one task takes: fixed, so that the list
// is the same at any number of cores.
const influenceChunk = 1 << 12

// Influences lists the most fish that move the passed shares of all fish most
// when left out, to first order: with s the fish's score and I the observed
// information, the coefficients move by −I⁻¹s (one Newton step from the fit;
// Pregibon 1981, Annals of Statistics 9:705–724, for one family of models; the
// step is the same for any likelihood), and the mean over fish is
// over one fish less. Fish of the same history that the model cannot tell
// apart are one entry. Where an estimate is at or near 0 or 1 first order says
// little, and a list of 40 at most is of fits without the fish. The model must have no times of passage. The error is
// ctx's.
func Influences(ctx context.Context, f *cjs.Fit, most int) ([]Influence, error) {
	if err := f.Check(); err != nil {
		return nil, err
	}
	p := f.Problem
	if p.Windowed() {
		return nil, fmt.Errorf("where a row did not always work a fish also counts by its times, which this list leaves out")
	}
	if p.Running() {
		return nil, fmt.Errorf("while the season runs (as_of) a fish also counts by its times, which this list leaves out")
	}
	if most < 0 {
		return nil, fmt.Errorf("a list of %d fish; it has none or more", most)
	}
	pulls := pullsOf(f)
	reps, alike := representatives(p)
	chunks := (len(reps) + influenceChunk - 1) / influenceChunk
	asked := most
	edge := most <= mostRefits && atEdge(f)
	if edge {
		most = min(2*most, mostRefits) // first order may have them in another order
	}
	best := make([][]Influence, chunks)
	cores.Each(ctx, chunks, func() func(int) {
		w := newWeigher(f, pulls)
		return func(c int) {
			from, to := c*influenceChunk, min((c+1)*influenceChunk, len(reps))
			best[c] = w.chunk(reps[from:to], alike[from:to], most)
		}
	})
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	out := top(slices.Concat(best...), most)
	if edge {
		for i := range out {
			if err := out[i].refit(ctx, f, pulls); err != nil {
				return nil, err
			}
		}
		out = top(out, asked)
	}
	for i := range out {
		out[i].describe(p)
		for n := range pulls {
			out[i].Sites = append(out[i].Sites, pulls[n].site)
		}
	}
	return out, nil
}

// top keeps the most largest, in order; of equals the first record.
func top(list []Influence, most int) []Influence {
	slices.SortFunc(list, func(a, b Influence) int {
		return cmp.Or(cmp.Compare(b.largest(), a.largest()), cmp.Compare(a.Record, b.Record))
	})
	return list[:min(most, len(list))]
}

func pullsOf(f *cjs.Fit) []pull {
	var out []pull
	n := f.Parameters
	for j := range f.Passed {
		row := &f.Passed[j]
		if len(row.Of) > 0 {
			continue
		}
		x := pull{site: row.Site, share: row.PassedShare.Value, fish: float64(row.Released), weight: make([]float64, n)}
		x.known = !math.IsNaN(x.share)
		for a, g := range f.PassedGradient(j) {
			for b := range n {
				x.weight[b] += g * f.Covariance[a*n+b] / f.Options.VarianceInflation
			}
		}
		out = append(out, x)
	}
	return out
}

// representatives are records of which no two are alike to the model, with
// the number of fish alike. Where fish have numbers each record stands alone.
func representatives(p *model.Problem) (reps []int, alike []int) {
	h := p.Histories
	type key struct {
		class int32
		entry uint8
		seen  uint64
		end   history.End
		fresh bool
	}
	index := map[key]int{}
	for i, g := range p.ClassOf {
		if g < 0 {
			continue
		}
		k := key{g, h.Entry[i], h.Seen[i], h.End[i], h.New(i)}
		if at, ok := index[k]; ok && p.Z == nil {
			alike[at] += h.Weight(i)
			continue
		}
		if p.Z == nil {
			index[k] = len(reps)
		}
		reps, alike = append(reps, i), append(alike, h.Weight(i))
	}
	return reps, alike
}

// weigher weighs one fish at a time.
type weigher struct {
	f       *cjs.Fit
	pulls   []pull
	score   func(i int, score []float64)
	s, z, q []float64 // q: site: the fish's probability to reach it
}

func newWeigher(f *cjs.Fit, pulls []pull) *weigher {
	p := f.Problem
	w := &weigher{f: f, pulls: pulls, score: f.Score(), s: make([]float64, f.Parameters),
		z: make([]float64, p.Design.Numbers), q: make([]float64, p.Layout.Sites())}
	w.z[0] = 1
	return w
}

func (w *weigher) chunk(reps, alike []int, most int) []Influence {
	var out []Influence
	least := -1.0
	by := make([]float64, len(w.pulls))
	for n, i := range reps {
		w.weigh(i, by)
		x := Influence{Record: i, Alike: alike[n], By: by}
		if x.largest() <= least {
			continue
		}
		x.By = slices.Clone(by)
		if out = append(out, x); len(out) >= 2*most+64 {
			if out = top(out, most); len(out) == 0 {
				return nil
			}
			least = out[len(out)-1].largest()
		}
	}
	return top(out, most)
}

// weigh sets by to the moves without one fish of record i.
func (w *weigher) weigh(i int, by []float64) {
	p := w.f.Problem
	h := p.Histories
	w.score(i, w.s)
	for n := range p.Z {
		w.z[n+1] = p.Z[n][i]
	}
	entry := int(h.Entry[i])
	w.q[entry] = 1
	for k := entry + 1; k < len(w.q); k++ {
		w.q[k] = w.q[k-1] * w.f.Probability(int(p.ClassOf[i]), p.Layout.Survival(k-1), w.z)
	}
	for n := range w.pulls {
		x := &w.pulls[n]
		if !x.known {
			by[n] = math.NaN()
			continue
		}
		by[n] = 0
		for a, s := range w.s {
			by[n] -= x.weight[a] * s
		}
		if h.New(i) && entry < x.site && x.fish > 1 {
			by[n] += (x.share - w.q[x.site]) / (x.fish - 1)
		}
	}
}

// describe says which fish it is.
func (x *Influence) describe(p *model.Problem) {
	h := p.Histories
	i := x.Record
	if h.Tag != nil {
		x.Tag = h.Tag[i]
	}
	for c, name := range p.Categories {
		x.Of = append(x.Of, cjs.Category{Name: name, Level: p.Levels[c][p.Classes[p.ClassOf[i]].Level[c]]})
	}
	x.History = historyWords(h, i)
}

// historyWords writes the history of record i, sites parted by blanks.
func historyWords(h *history.Histories, i int) string {
	digit := func(seen bool) byte {
		if seen {
			return '1'
		}
		return '0'
	}
	var b strings.Builder
	row := 0
	for k := range h.River.Sites {
		if k > 0 {
			b.WriteByte(' ')
		}
		rows := 1
		if k > 0 {
			rows = h.River.Sites[k].RowCount()
		}
		for range rows {
			seen := int(h.Entry[i]) == k
			if k > 0 {
				seen = seen || h.Seen[i]>>uint(row)&1 == 1
				row++
			}
			b.WriteByte(digit(seen))
		}
	}
	if h.End[i] == history.Removed {
		b.WriteString(", taken out")
	}
	return b.String()
}
