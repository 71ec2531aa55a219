package simulate

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"

	"gonum.org/v1/gonum/stat/distuv"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// Study is a truth with the model that is fitted to each of its samples.
type Study struct {
	Name, About string
	Truth       Truth
	Spec        model.Spec
	// Options of each fit; Retention is taken from the sample.
	Options    cjs.Options
	Holds      []model.Hold
	Conditions []history.CohortCondition
	Seed       uint64
	// Coefficients to watch, by part and term ("survival fork_length_mm"),
	// in the column's own unit.
	Coefficients map[string]float64
}

// Quantity is what became of one estimate over all replicates.
type Quantity struct {
	// Kind is survival, detection, passed, passed fish or coefficient.
	Kind string `json:"kind"`
	// Of is the cohort, "" for all fish; At the reach, site, row or term.
	Of string `json:"of,omitempty"`
	At string `json:"at"`
	// Given counts replicates with an estimate, Intervals those with an
	// interval; what follows is of these.
	Given     int `json:"given"`
	Intervals int `json:"intervals"`
	// Truth is the mean true value, Bias the mean of estimate − truth.
	Truth  float64 `json:"truth"`
	Bias   float64 `json:"bias"`
	BiasSE float64 `json:"bias_se"` // Monte Carlo standard error of Bias
	// SD is the real spread of estimate − truth, SE the root mean square of
	// its estimates.
	SD float64 `json:"sd"`
	SE float64 `json:"se"`
	// Covered counts intervals that hold the truth; Low and High those that
	// lie wholly below and above it.
	Covered int     `json:"covered"`
	Low     int     `json:"low"`
	High    int     `json:"high"`
	Width   float64 `json:"width"`
}

// Coverage is the share of the intervals that hold the truth.
func (q *Quantity) Coverage() float64 { return float64(q.Covered) / float64(q.Intervals) }

// Result is what became of a study's replicates From to To, both included,
// counted from 1.
type Result struct {
	Study      string         `json:"study"`
	About      string         `json:"about"`
	Model      string         `json:"model"`
	Seed       uint64         `json:"seed"`
	From       int            `json:"from"`
	To         int            `json:"to"`
	Replicates int            `json:"replicates"` // finished
	Failed     map[string]int `json:"failed"`     // why → replicates
	Warned     map[string]int `json:"warned"`     // warning → replicates
	// Doubted counts the replicates with a warning that is about the data,
	// not one that the design always has (see [AboutDesign]).
	Doubted    int        `json:"doubted"`
	Quantities []Quantity `json:"quantities"`
}

// AboutDesign tells whether a warning is about the design of the study and the
// model, and so stands in every replicate whatever its data.
func AboutDesign(id string) bool {
	return id == cjs.WarnInseparable || id == cjs.WarnModelAlone || id == cjs.WarnRowsUntested
}

// Run simulates and fits replicates from to to, both included and counted from
// 1, in parallel; the result does not depend on the number of cores. When ctx
// ends it returns what was finished, with the context's error. done, where not
// nil, is called after each replicate, from several goroutines.
func (s *Study) Run(ctx context.Context, from, to int, done func()) (*Result, error) {
	if err := s.Truth.Check(); err != nil {
		return nil, err
	}
	if from < 1 || to < from {
		return nil, fmt.Errorf("replicates %d to %d: they are counted from 1, the first before the last", from, to)
	}
	out := make([]replicate, to-from+1)
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(out)) {
		wg.Go(func() {
			for ctx.Err() == nil {
				i := int(next.Add(1)) - 1
				if i >= len(out) {
					return
				}
				s.one(ctx, uint64(from+i), &out[i])
				if done != nil {
					done()
				}
			}
		})
	}
	wg.Wait()
	r := &Result{Study: s.Name, About: s.About, Seed: s.Seed, From: from, To: to, Failed: map[string]int{}, Warned: map[string]int{}}
	r.sum(out)
	return r, ctx.Err()
}

// estimate is one quantity of one replicate.
type estimate struct {
	key                         key
	truth, value, se, low, high float64
}

type key struct{ kind, of, at string }

type replicate struct {
	finished  bool
	model     string
	failed    string
	warned    []string
	estimates []estimate
}

func (s *Study) one(ctx context.Context, index uint64, r *replicate) {
	sample := s.Truth.Draw(s.Seed, index)
	p, err := model.Build(model.Input{Histories: sample.Histories, TestPasses: sample.TestPasses, Holds: s.Holds, Conditions: s.Conditions}, s.Spec)
	if err != nil {
		r.finished, r.failed = true, err.Error()
		return
	}
	r.model = p.Words()
	opt := s.Options
	opt.Retention.Held, opt.Retention.Kept = sample.Retention.Held, sample.Retention.Kept
	f, err := cjs.New(ctx, p, opt)
	if ctx.Err() != nil {
		return
	}
	r.finished = true
	switch {
	case err != nil:
		r.failed = err.Error()
		return
	case f.Verdict != cjs.Converged:
		r.failed = string(f.Verdict)
		return
	}
	for _, w := range f.Warnings {
		if !slices.Contains(r.warned, w.ID) {
			r.warned = append(r.warned, w.ID)
		}
	}
	r.estimates = s.watch(sample, f)
}

// watch sets the estimates of a fit beside the truth.
func (s *Study) watch(sample *Sample, f *cjs.Fit) []estimate {
	var out []estimate
	h := sample.Histories
	add := func(kind, of, at string, truth float64, e cjs.Estimate) {
		out = append(out, estimate{key{kind, of, at}, truth, e.Value, e.SE, e.Low, e.High})
	}
	for i := range f.Survival {
		e := &f.Survival[i]
		of, truth, ok := s.known(e.Of, func(c *Cohort) float64 {
			// What a lost tag does looks like death before the first site.
			if c.Entry == e.From && s.Truth.Retention.Held > 0 {
				return c.Survival[e.From] * s.Truth.Retention.Kept
			}
			return c.Survival[e.From]
		})
		if ok {
			add("survival", of, h.River.Reach(e.From), truth, e.Estimate)
		}
	}
	for i := range f.Detection {
		e := &f.Detection[i]
		first := h.River.FirstRow(e.Site)
		at := h.River.Sites[e.Site].Name
		if e.Row >= 0 {
			at = h.River.RowLabel(first + e.Row)
		}
		of, truth, ok := s.known(e.Of, func(c *Cohort) float64 {
			if e.Row >= 0 {
				return c.Detection[first+e.Row]
			}
			miss := 1.0
			for b := first; b < first+h.River.Sites[e.Site].RowCount(); b++ {
				miss *= 1 - c.Detection[b]
			}
			return 1 - miss
		})
		if ok {
			add("detection", of, at, truth, e.Estimate)
		}
	}
	for i := range f.Passed {
		e := &f.Passed[i]
		of, cohort := cohortOf(e.Of)
		if len(e.Of) > 1 || len(e.Of) == 1 && !cohort {
			continue
		}
		var share, fish, n float64
		for c, name := range h.Cohorts {
			if (len(e.Of) == 0 || name == of) && sample.Entered[c][e.Site] > 0 {
				m := float64(sample.Entered[c][e.Site])
				share += m * sample.Share[c][e.Site]
				fish += float64(sample.Passed[c][e.Site])
				n += m
			}
		}
		passed := e.PassedShare
		if s.Truth.Retention.Held > 0 {
			passed = e.WithRetention
		}
		at := h.River.Sites[e.Site].Name
		add("passed", of, at, share/n, passed)
		if !s.Options.EstimatesOnly && s.Truth.Retention.Held == 0 {
			add("passed fish", of, at, fish, e.PassedFish)
		}
	}
	z := distuv.UnitNormal.Quantile(0.5 + f.Options.Level/2)
	for i := range f.Coefficients {
		c := &f.Coefficients[i]
		name := c.Part + " " + c.Term
		if truth, ok := s.Coefficients[name]; ok {
			add("coefficient", "", name, truth, cjs.Estimate{Value: c.Estimate, SE: c.SE, Low: c.Estimate - z*c.SE, High: c.Estimate + z*c.SE})
		}
	}
	return out
}

func cohortOf(of []cjs.Category) (name string, cohort bool) {
	if len(of) == 1 && of[0].Name == model.Cohort {
		return of[0].Level, true
	}
	return "", false
}

// known is the true value of a probability for the fish of: there is one when
// it is the same for all cohorts they belong to.
func (s *Study) known(of []cjs.Category, value func(*Cohort) float64) (name string, truth float64, ok bool) {
	name, cohort := cohortOf(of)
	if len(of) > 0 && !cohort || len(s.Truth.Covariates)+len(s.Truth.Cohorts[0].Values) > 0 {
		return "", 0, false
	}
	truth = math.NaN()
	for i := range s.Truth.Cohorts {
		c := &s.Truth.Cohorts[i]
		if cohort && c.Name != name {
			continue
		}
		v := value(c)
		if !math.IsNaN(truth) && v != truth {
			return "", 0, false
		}
		truth = v
	}
	return name, truth, !math.IsNaN(truth)
}

// sum adds up the replicates in their order.
func (r *Result) sum(all []replicate) {
	index := map[key]int{}
	var diffs [][]float64
	for i := range all {
		x := &all[i]
		if !x.finished {
			continue
		}
		r.Replicates++
		if x.model != "" {
			r.Model = x.model
		}
		if x.failed != "" {
			r.Failed[x.failed]++
		}
		doubted := false
		for _, w := range x.warned {
			r.Warned[w]++
			doubted = doubted || !AboutDesign(w)
		}
		if doubted {
			r.Doubted++
		}
		for _, e := range x.estimates {
			j, ok := index[e.key]
			if !ok {
				j = len(r.Quantities)
				index[e.key] = j
				r.Quantities = append(r.Quantities, Quantity{Kind: e.key.kind, Of: e.key.of, At: e.key.at})
				diffs = append(diffs, nil)
			}
			if math.IsNaN(e.value) {
				continue
			}
			q := &r.Quantities[j]
			q.Given++
			q.Truth += e.truth
			diffs[j] = append(diffs[j], e.value-e.truth)
			if !math.IsNaN(e.se) {
				q.SE += e.se * e.se
			}
			if math.IsNaN(e.low) || math.IsNaN(e.high) {
				continue
			}
			q.Intervals++
			q.Width += e.high - e.low
			switch {
			case e.high < e.truth-1e-12:
				q.Low++
			case e.low > e.truth+1e-12:
				q.High++
			default:
				q.Covered++
			}
		}
	}
	for j := range r.Quantities {
		q := &r.Quantities[j]
		n := float64(q.Given)
		if q.Given == 0 {
			continue
		}
		q.Truth /= n
		q.SE = math.Sqrt(q.SE / n)
		if q.Intervals > 0 {
			q.Width /= float64(q.Intervals)
		}
		q.Bias, q.SD = meanSD(diffs[j])
		q.BiasSE = q.SD / math.Sqrt(n)
	}
	slices.SortStableFunc(r.Quantities, func(a, b Quantity) int { return strings.Compare(a.Kind, b.Kind) })
}

func meanSD(v []float64) (mean, sd float64) {
	for _, x := range v {
		mean += x
	}
	mean /= float64(len(v))
	var sq float64
	for _, x := range v {
		sq += (x - mean) * (x - mean)
	}
	return mean, math.Sqrt(sq / float64(max(1, len(v)-1)))
}
