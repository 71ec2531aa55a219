package opinion

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
	"example.org/unseen/history/ingest"
	"example.org/unseen/history/ready"
	"example.org/unseen/history/study"
	"example.org/unseen/likelihood"
)

// clocked counts the evaluations of an objective, and notes when the first of
// them was at the goal. When a method stops after that is a matter of its
// settings, which are not alike.
type clocked struct {
	likelihood.Objective
	goal  float64 // log-likelihood
	begin time.Time

	n, until int // evaluations; until the goal, 0 where it was not reached
	took     time.Duration
}

func (c *clocked) Eval(x []float64, order int, p *likelihood.Point) {
	c.n++
	c.Objective.Eval(x, order, p)
	if c.until == 0 && p.F >= c.goal {
		c.until, c.took = c.n, time.Since(c.begin)
	}
}

// cohorts are fish in many cohorts on a river of 8 sites.
func cohorts(n, each int) *history.Histories {
	rnd := rand.New(rand.NewPCG(21, 4))
	h := &history.Histories{}
	for k := range 8 {
		h.River.Sites = append(h.River.Sites, history.Site{Name: fmt.Sprint("site ", k), Km: math.NaN(), Days: math.NaN()})
	}
	for c := range n {
		h.Cohorts = append(h.Cohorts, fmt.Sprint("day ", c+1))
		for range each {
			var seen uint64
			for k := range 7 {
				if rnd.Float64() >= 0.8+0.015*float64((c+k)%10) {
					break
				}
				if rnd.Float64() < 0.35+0.03*float64((c*3+k)%12) {
					seen |= 1 << uint(k)
				}
			}
			h.Entry, h.Seen, h.End, h.Cohort = append(h.Entry, 0), append(h.Seen, seen), append(h.End, history.Open), append(h.Cohort, int32(c))
		}
	}
	return h
}

// start is where a search begins: a fit's objective and starts.
type start struct {
	of    *cjs.Fit
	xs    [][]float64
	scale []float64
}

// startsAt are the first n starts of a second opinion on a model.
func startsAt(b *testing.B, in model.Input, survival, detection string, n int) start {
	p, err := model.Build(in, model.Spec{Survival: survival, Detection: detection})
	if err != nil {
		b.Fatal(err)
	}
	f, err := cjs.New(context.Background(), p, cjs.Options{})
	if err != nil {
		b.Fatal(err)
	}
	return start{f, startsOf(f, Options{Starts: n, Seed: 1}), scales(f)}
}

func load(b *testing.B, path string) model.Input {
	st, err := study.Load(path)
	if err != nil {
		b.Fatal(err)
	}
	var h *history.Histories
	if st.Sightings == nil {
		h, _, err = ready.Read(st)
	} else {
		var r *ingest.Result
		if r, err = ingest.Run(context.Background(), st, ingest.Options{}); err == nil {
			h = r.Histories
		}
	}
	if err != nil {
		b.Fatal(err)
	}
	in, err := model.FromStudy(st, h, nil, nil)
	if err != nil {
		b.Fatal(err)
	}
	return in
}

// BenchmarkSideBySide holds the fit's own climb to gonum's Newton and BFGS:
// from the same starts, on the same objective, in turn, so that the noise of
// the machine falls on all alike. Told is, for one climb, how many evaluations
// and how long it takes until −2 ln L is within [Tolerance] of the maximum,
// among the climbs that get there, and the share of those. gonum's see scaled
// coefficients, which helps them; what the fit does where a probability runs to
// its bound is left out.
func BenchmarkSideBySide(b *testing.B) {
	dipper := load(b, "../../testdata/published/lebreton1992/dipper.toml")
	demo := load(b, "../../cmd/unseen/internal/demo/files/study.toml")
	table := model.Input{Histories: cohorts(20, 500)}
	birds := func(n int) (out []start) {
		for _, s := range []string{"same", "sex", "reach", "reach + sex", "reach by sex"} {
			for _, d := range []string{"same", "sex", "site", "site + sex", "site by sex"} {
				out = append(out, startsAt(b, dipper, s, d, n))
			}
		}
		return out
	}
	one := func(in model.Input, survival, detection string, n int) []start {
		return []start{startsAt(b, in, survival, detection, n)}
	}
	for _, c := range []struct {
		name   string
		starts []start
	}{
		{"25 models of the dipper table, first start", birds(1)},
		{"the same, 12 starts", birds(12)},
		{"demo, reach + cohort | row, first start", one(demo, "reach + cohort", "row", 1)},
		{"the same, 12 starts", one(demo, "reach + cohort", "row", 12)},
		{"demo, reach + fork_length_mm | row, first start", one(demo, "reach + fork_length_mm", "row", 1)},
		{"the same, 12 starts", one(demo, "reach + fork_length_mm", "row", 12)},
		{"20 cohorts 8 sites, reach + cohort | site, first start", one(table, "reach + cohort", "site", 1)},
		{"the same, 12 starts", one(table, "reach + cohort", "site", 12)},
		{"20 cohorts 8 sites, reach by cohort | site, first start", one(table, "reach by cohort", "site", 1)},
		{"the same, 12 starts", one(table, "reach by cohort", "site", 12)},
	} {
		b.Run(c.name, func(b *testing.B) { sideBySide(b, c.starts) })
	}
}

func sideBySide(b *testing.B, starts []start) {
	ctx := context.Background()
	climb := func(i int, o likelihood.Objective, x, scale []float64) {
		if i > 0 {
			methods[i-1].climb(ctx, o, x, scale)
		} else if _, err := cjs.Maximise(ctx, o, x); err != nil {
			b.Fatal(err)
		}
	}
	var took [3]time.Duration
	var evaluations, reached [3]int
	climbs := 0
	for b.Loop() {
		for _, s := range starts {
			for _, x := range s.xs {
				climbs++
				for i := range took {
					o := &clocked{Objective: s.of.Objective(), goal: s.of.LogLikelihood - Tolerance/2, begin: time.Now()}
					climb(i, o, x, s.scale)
					if o.until > 0 {
						reached[i]++
						evaluations[i] += o.until
						took[i] += o.took
					}
				}
			}
		}
	}
	b.ReportMetric(0, "ns/op") // of all three together: nothing to read
	for i, name := range []string{"own", "Newton", "BFGS"} {
		n := float64(max(1, reached[i]))
		b.ReportMetric(float64(took[i].Microseconds())/n, name+"-µs")
		b.ReportMetric(float64(evaluations[i])/n, name+"-evaluations")
		b.ReportMetric(float64(reached[i])/float64(climbs), name+"-reached")
	}
}
