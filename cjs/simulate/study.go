package simulate

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sync"

	"gonum.org/v1/gonum/stat/distuv"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/internal/cores"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
	"example.org/unseen/history/study"
)

// Study is a truth with the model that is fitted to each of its samples.
type Study struct {
	Name, About string     // short, and a description
	Truth       Truth      // simulated from
	Spec        model.Spec // the model fitted
	// Options of each fit; Retention is taken from the sample.
	Options    cjs.Options
	Holds      []model.Hold
	Conditions []history.CohortCondition
	Seed       uint64
	// Vary, where not nil, makes the truth of each replicate anew from random
	// numbers of its own; Truth is then the one it varies about.
	Vary func(*rand.Rand) Truth
	// Withheld: shares that passed count also where it was too early to give them.
	Withheld bool
	// Undeclared: the fits are not told the truth's windows of work but Declared.
	Undeclared bool
	Declared   [][]study.Window
	// Coefficients to watch, by part and term ("survival fork_length_mm"),
	// in the column's own unit.
	Coefficients map[string]float64
	// Have, where not nil, is what was made of the same study before: its replicates
	// are not made again, and the result keeps all of them for a later run. An empty
	// one has none made yet.
	Have *Result
}

// Share is that of the passages that fell into the outage.
func (o Outage) Share() float64 { return float64(o.Idle) / float64(o.Passed) }

// mostReplicates are more than anybody waits for.
const mostReplicates = 10_000_000

// Run simulates and fits replicates from to to, both included and counted from
// 1, in parallel; the result does not depend on the number of cores. When ctx
// ends it returns what was finished, with the context's error. done, where not
// nil, is called after each replicate, from several goroutines.
func (s *Study) Run(ctx context.Context, from, to int, done func()) (*Result, error) {
	if err := s.Truth.Check(); err != nil {
		return nil, err
	}
	if err := s.Options.Check(); err != nil {
		return nil, err
	}
	if from < 1 || to < from {
		return nil, fmt.Errorf("replicates %d to %d: they are counted from 1, the first before the last", from, to)
	}
	if to-from >= mostReplicates {
		return nil, fmt.Errorf("replicates %d to %d; at most %d can be made at once", from, to, mostReplicates)
	}
	out := make([]replicate, to-from+1)
	if h := s.Have; h != nil {
		if len(h.made) > 0 && h.Seed != s.Seed {
			return nil, fmt.Errorf("the replicates made before are of seed %d, not %d", h.Seed, s.Seed)
		}
		for i := range h.made {
			if k := h.From + i - from; k >= 0 && k < len(out) {
				out[k] = h.made[i]
			}
		}
	}
	cores.Each(ctx, len(out), func() func(int) {
		return func(i int) {
			if out[i].finished {
				return
			}
			s.one(ctx, uint64(from+i), &out[i])
			if done != nil {
				done()
			}
		}
	})
	r := &Result{Study: s.Name, About: s.About, Seed: s.Seed, From: from, To: to, Failed: map[string]int{}, Warned: map[string]int{}, judged: !s.Options.EstimatesOnly}
	r.sum(out)
	if s.Have != nil {
		r.made = out
	}
	return r, ctx.Err()
}

// ofTruth sets the random numbers of a replicate's truth apart from those of
// its fish.
const ofTruth = 1 << 62

func (s *Study) one(ctx context.Context, index uint64, r *replicate) {
	truth := &s.Truth
	if s.Vary != nil {
		t := s.Vary(Stream(s.Seed, index|ofTruth))
		if err := t.Check(); err != nil {
			r.finished, r.failed = true, err.Error()
			return
		}
		truth = &t
	}
	sample := truth.Draw(s.Seed, index)
	r.outages = sample.Outages
	p, err := model.Build(model.Input{Histories: sample.Histories, TestPasses: sample.TestPasses, Holds: s.Holds, Conditions: s.Conditions, AsOf: truth.AsOf, Working: s.Told(truth)}, s.Spec)
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
	r.estimates = s.watch(truth, sample, f)
}

// Told are the windows of work that the fits know of.
func (s *Study) Told(truth *Truth) [][]study.Window {
	if s.Undeclared || truth == nil {
		return s.Declared
	}
	return truth.Working
}

// Knows tells whether the fits know all the times at which a row of the truth does
// not work, named as in [Outage].
func (s *Study) Knows(row string) bool {
	for b, w := range s.Truth.Working {
		if s.Undeclared && s.Truth.River.RowLabel(b) == row {
			return w == nil || s.Declared != nil && slices.Equal(s.Declared[b], w)
		}
	}
	return true
}

// watch sets the estimates of a fit beside the truth.
func (s *Study) watch(truth *Truth, sample *Sample, f *cjs.Fit) []estimate {
	var out []estimate
	h := sample.Histories
	could := sync.OnceValue(func() *information { return truth.informationOf(sample, f.Problem) })
	add := func(kind, of, at string, truth float64, e cjs.Estimate, told func(*information) bool) *estimate {
		x := estimate{key: key{kind, of, at}, truth: truth, value: e.Value, se: e.SE, low: e.Low, high: e.High}
		switch {
		case !math.IsNaN(e.Low) && !math.IsNaN(e.High):
			x.answer = interval
		case e.Status == cjs.Held || s.Options.EstimatesOnly && !math.IsNaN(e.Value):
			x.answer = noneAsked
		case told(could()):
			x.answer = missed
		default:
			x.answer = impossible
		}
		out = append(out, x)
		return &out[len(out)-1]
	}
	retention := truth.Retention
	for i := range f.Survival {
		e := &f.Survival[i]
		of, value, ok := truth.known(e.Of, func(c *Cohort) float64 {
			// What a lost tag does looks like death before the first site.
			if c.Entry == e.From && retention.Held > 0 {
				return c.Survival[e.From] * retention.Kept
			}
			return c.Survival[e.From]
		})
		if ok {
			add("survival", of, h.River.Reach(e.From), value, e.Estimate, func(n *information) bool { return n.survival(of, e.From) })
		}
	}
	for i := range f.Detection {
		e := &f.Detection[i]
		first, rows := h.River.FirstRow(e.Site), h.River.Sites[e.Site].RowCount()
		at := h.River.Sites[e.Site].Name
		if e.Row >= 0 {
			first, rows = first+e.Row, 1
			at = h.River.RowLabel(first)
		}
		of, value, ok := truth.known(e.Of, func(c *Cohort) float64 {
			if rows == 1 {
				return c.Detection[first]
			}
			miss := 1.0
			for _, p := range c.Detection[first : first+rows] {
				miss *= 1 - p
			}
			return 1 - miss
		})
		if ok {
			add("detection", of, at, value, e.Estimate, func(n *information) bool { return n.detection(of, first, rows) })
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
		if retention.Held > 0 {
			passed = e.WithRetention
		}
		if s.Withheld && passed.Status == cjs.TooEarly {
			passed.Value = e.Withheld()
		}
		at := h.River.Sites[e.Site].Name
		told := func(n *information) bool { return n.passed(of, e.Site) }
		add("passed", of, at, share/n, passed, told).doubted = len(e.Doubts) > 0
		if !s.Options.EstimatesOnly && retention.Held == 0 {
			add("passed fish", of, at, fish, e.PassedFish, told)
		}
	}
	z := distuv.UnitNormal.Quantile(0.5 + f.Options.Level/2)
	for i := range f.Coefficients {
		c := &f.Coefficients[i]
		name := c.Part + " " + c.Term
		if truth, ok := s.Coefficients[name]; ok {
			e := cjs.Estimate{Value: c.Estimate, SE: c.SE, Low: c.Estimate - z*c.SE, High: c.Estimate + z*c.SE, Status: c.Status}
			add("coefficient", "", name, truth, e, func(n *information) bool { return n.coefficient(i) })
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
func (t *Truth) known(of []cjs.Category, value func(*Cohort) float64) (name string, truth float64, ok bool) {
	name, cohort := cohortOf(of)
	if len(of) > 0 && !cohort || len(t.Covariates)+len(t.Cohorts[0].Values) > 0 {
		return "", 0, false
	}
	truth = math.NaN()
	for i := range t.Cohorts {
		c := &t.Cohorts[i]
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
