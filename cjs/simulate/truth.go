// Package simulate makes detection histories of which the truth is known, and
// shows by them what a fit is worth: bias, standard errors against the real
// spread, coverage of intervals, and how far the answer is off where an
// assumption does not hold.
//
// Begin with [Truth] and [Truth.Draw], and [Study] for many draws;
// ExampleTruth_Draw and ExampleStudy_Run show them. Probabilities are from 0 to
// 1; the same seed gives the same fish.
package simulate

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"time"

	"example.org/unseen/history"
	"example.org/unseen/history/study"
	"example.org/unseen/likelihood"
)

// Truth is what is true of a simulated study.
type Truth struct {
	River history.River // its sites and rows
	// Cohorts are the release groups. Several of one name are one cohort
	// whose fish enter at different sites.
	Cohorts []Cohort
	// Covariates are numbers of the fish.
	Covariates []Covariate
	// PerKm: effects on survival act on the logarithm of the mortality per
	// km (the sites need Km), not on the logit of survival.
	PerKm bool
	// TestPasses are made anew in each sample.
	TestPasses []TestPasses
	// Retention is a trial with fish held to see whether their tags stay in.
	Retention Retention
	// Violations break assumptions of the model; zero breaks none.
	Violations Violations
	// AsOf is when the data end, where the season still runs: what is seen
	// later is not known, nor are fish released later part of the study. It
	// needs cohorts with times. Zero: the season is over.
	AsOf time.Time
	// Working are the windows in which each numbered row works, nil where it
	// always does: what passes at another time is not seen. It needs cohorts
	// with times; nil: all always work.
	Working [][]study.Window
}

// Cohort is fish released together.
type Cohort struct {
	Name string // for people
	Fish int    // released
	// Entry is the site where they are released.
	Entry int
	// Survival of each reach: sites − 1 values.
	Survival []float64
	// Detection of each numbered row.
	Detection []float64
	// Removed is the share taken out of the fish seen at each site; nil: none.
	Removed []float64
	// Levels and Values are the fish's other categories and numbers, by name;
	// all cohorts have the same names. They change no probability: those above
	// are the ones of these fish.
	Levels map[string]string
	Values map[string]float64
	// Released are times of release (Unix milliseconds) among which the fish
	// are shared out evenly, in order; nil: no times are made. Where one cohort
	// has times all have, and the sites need Km.
	Released []int64
	// Movement is how the fish travel, where there are times.
	Movement Movement
}

// Movement is how fish travel: the time from one point to the next is that of
// first passage of a drift (km/day) with a spread (km/√day).
type Movement struct {
	Drift, Spread float64 // km/day, and km/√day
	// Drifts and Spreads are those of each reach, where they differ; nil: the
	// ones above.
	Drifts, Spreads []float64
	// Rest is the share of the fish that rest after their release: as long as
	// it takes to travel RestKm, and a time exponential with mean RestDays.
	Rest, RestKm, RestDays float64
}

// over are drift and spread of reach k.
func (m *Movement) over(k int) (drift, spread float64) {
	drift, spread = m.Drift, m.Spread
	if m.Drifts != nil {
		drift = m.Drifts[k]
	}
	if m.Spreads != nil {
		spread = m.Spreads[k]
	}
	return drift, spread
}

// uneven tells whether the values by reach are no movement.
func (m *Movement) uneven(reaches int) bool {
	for _, v := range [][]float64{m.Drifts, m.Spreads} {
		if v != nil && len(v) != reaches || slices.ContainsFunc(v, func(x float64) bool { return !(x > 0) || math.IsInf(x, 1) }) {
			return true
		}
	}
	return false
}

// Covariate is a number of the fish, drawn from a normal distribution.
type Covariate struct {
	Name     string  // of the column
	Mean, SD float64 // of a normal distribution, in the column's own unit
	// Survival and Detection are what one unit above the mean adds to the
	// predictor of each reach and of each numbered row; nil: nothing.
	Survival, Detection []float64
}

// TestPasses are passes of a test tag over a numbered row, read with the
// detection the first cohort has there.
type TestPasses struct{ Row, Passes int }

// Retention: of Held fish held, each keeps its tag with probability Kept; so
// does every fish of the study, before it leaves the first site. Held 0: no
// tag is lost and no trial made.
type Retention struct {
	Held int     // fish held
	Kept float64 // probability that a tag stays in
}

// Violations are ways in which a study can break what the model assumes. The
// share that passed is always that of the fish as they would migrate
// unharmed, so that the error of an estimate can be told.
type Violations struct {
	// DetectionSD is the standard deviation between fish, on the logit
	// scale, of detection at all rows together.
	DetectionSD float64 `json:"detection_sd"`
	// TagLoss is the share of tags lost in each reach.
	TagLoss float64 `json:"tag_loss"`
	// HandlingDeath is the share of fish that die where they are released.
	HandlingDeath float64 `json:"handling_death"`
	// RowsTogether is the share of passages at a site in which its rows do
	// not see independently, but all of them well or badly.
	RowsTogether float64 `json:"rows_together"`
	// Ghosts is the share of the fish dying in a reach whose tags drift on
	// past the next site; of these the same share past the one after it, ….
	Ghosts float64 `json:"ghosts"`
	// Second is a second kind of migrant.
	Second Mixture `json:"second_kind"`
}

// Mixture is a share of the fish that survives and is seen differently.
type Mixture struct {
	Share float64 `json:"share"` // of the fish that are of the second kind
	// Survival and Detection are added to the logits.
	Survival  float64 `json:"survival"`
	Detection float64 `json:"detection"`
	// Drift is theirs, km/day, where there are times; 0: that of the others.
	Drift float64 `json:"drift,omitempty"`
}

// Check says what is wrong with a truth.
func (t *Truth) Check() error {
	if err := t.River.Check(); err != nil {
		return err
	}
	sites, rows := len(t.River.Sites), t.River.Rows()
	if sites < 2 {
		return fmt.Errorf("a truth needs two sites: one to release at and one to detect fish at")
	}
	if len(t.Cohorts) == 0 {
		return fmt.Errorf("a truth needs a cohort")
	}
	shares := func(what string, v []float64, n int) error {
		if len(v) != n {
			return fmt.Errorf("%s has %d values, not %d", what, len(v), n)
		}
		for _, p := range v {
			if err := share(what, p); err != nil {
				return err
			}
		}
		return nil
	}
	for i := range t.Cohorts {
		c := &t.Cohorts[i]
		name := fmt.Sprintf("cohort %q: ", c.Name)
		if c.Fish < 1 {
			return fmt.Errorf("%s%d fish; a cohort has at least one", name, c.Fish)
		}
		if c.Entry < 0 || c.Entry > sites-2 {
			return fmt.Errorf("%sfish enter at site %d; they can at the first %d", name, c.Entry+1, sites-1)
		}
		if err := shares(name+"survival (one value a reach)", c.Survival, sites-1); err != nil {
			return err
		}
		if err := shares(name+"detection (one value a row)", c.Detection, rows); err != nil {
			return err
		}
		if c.Removed != nil {
			if err := shares(name+"removed (one value a site)", c.Removed, sites); err != nil {
				return err
			}
		}
	}
	for i := range t.Cohorts {
		c, first := &t.Cohorts[i], &t.Cohorts[0]
		if !slices.Equal(names(c.Levels), names(first.Levels)) || !slices.Equal(names(c.Values), names(first.Values)) {
			return fmt.Errorf("cohort %q has other categories or numbers than %q", c.Name, first.Name)
		}
	}
	if err := t.checkTimes(); err != nil {
		return err
	}
	for _, c := range t.Covariates {
		if !(c.SD > 0) || math.IsInf(c.SD, 0) || math.IsNaN(c.Mean) || math.IsInf(c.Mean, 0) {
			return fmt.Errorf("covariate %q: mean %v and standard deviation %v make no distribution", c.Name, c.Mean, c.SD)
		}
		if c.Survival != nil && len(c.Survival) != sites-1 || c.Detection != nil && len(c.Detection) != rows {
			return fmt.Errorf("covariate %q: effects are given for each reach (%d) and each row (%d)", c.Name, sites-1, rows)
		}
	}
	for _, p := range t.TestPasses {
		if p.Row < 0 || p.Row >= rows || p.Passes < 1 {
			return fmt.Errorf("test passes: %d over row %d of %d", p.Passes, p.Row+1, rows)
		}
	}
	if t.Retention.Held < 0 {
		return fmt.Errorf("retention: %d fish held", t.Retention.Held)
	}
	if err := share("retention: share of tags kept", t.Retention.Kept); err != nil {
		return err
	}
	if t.PerKm {
		for k := range sites - 1 {
			if !(t.River.ReachKm(k) > 0) {
				return fmt.Errorf("effects per km need the km of every site; the reach %s has no length", t.River.Reach(k))
			}
		}
	}
	b := &t.Violations
	for _, x := range []struct {
		what string
		p    float64
	}{{"tag loss", b.TagLoss}, {"handling death", b.HandlingDeath}, {"rows together", b.RowsTogether}, {"ghosts", b.Ghosts}, {"second kind", b.Second.Share}} {
		if err := share(x.what, x.p); err != nil {
			return err
		}
	}
	if !(b.DetectionSD >= 0) || math.IsInf(b.DetectionSD, 0) {
		return fmt.Errorf("detection between fish: a standard deviation of %v", b.DetectionSD)
	}
	return nil
}

// checkTimes says what is wrong with the times of a truth.
func (t *Truth) checkTimes() error {
	timed := t.timed()
	if t.Working != nil && (!timed || len(t.Working) != t.River.Rows()) {
		return fmt.Errorf("working windows need cohorts with times of release, and are given for each of the %d rows", t.River.Rows())
	}
	for b, windows := range t.Working {
		for _, w := range windows {
			if !w.To.IsZero() && !w.From.Before(w.To) {
				return fmt.Errorf("%s works from %v to %v; a window ends after it starts", t.River.RowLabel(b), w.From, w.To)
			}
		}
	}
	if !timed && !t.AsOf.IsZero() {
		return fmt.Errorf("a season that still runs (as_of) needs cohorts with times of release and a movement")
	}
	for i := range t.Cohorts {
		c := &t.Cohorts[i]
		m := c.Movement
		switch {
		case (len(c.Released) > 0) != timed:
			return fmt.Errorf("cohort %q: where one cohort has times of release, all have", c.Name)
		case !timed:
			continue
		case !(m.Drift > 0 && m.Spread > 0) || math.IsInf(m.Drift, 0) || math.IsInf(m.Spread, 0):
			return fmt.Errorf("cohort %q: a drift of %v km/day with a spread of %v km/√day is no movement; both are above 0", c.Name, m.Drift, m.Spread)
		case m.uneven(len(t.River.Sites) - 1):
			return fmt.Errorf("cohort %q: drifts and spreads of single reaches are all above 0, one a reach; there are %d", c.Name, len(t.River.Sites)-1)
		case !(m.RestKm >= 0 && m.RestDays >= 0):
			return fmt.Errorf("cohort %q: a rest of %v km and %v days; both are at least 0", c.Name, m.RestKm, m.RestDays)
		}
		if err := share(fmt.Sprintf("cohort %q: share that rests", c.Name), m.Rest); err != nil {
			return err
		}
	}
	if !timed {
		return nil
	}
	for k := range len(t.River.Sites) - 1 {
		if !(t.River.ReachKm(k) > 0) {
			return fmt.Errorf("times need the km of every site; the reach %s has no length", t.River.Reach(k))
		}
	}
	return nil
}

// timed tells whether fish have times.
func (t *Truth) timed() bool {
	return slices.ContainsFunc(t.Cohorts, func(c Cohort) bool { return len(c.Released) > 0 })
}

// Stop has row b stand still from one moment to another, beside the times at which
// it does not work already. The windows that others hold stay as they are.
func (t *Truth) Stop(b int, from, to time.Time) {
	if b < 0 || b >= t.River.Rows() || t.Working != nil && len(t.Working) != t.River.Rows() {
		return
	}
	if t.Working == nil {
		t.Working = make([][]study.Window, t.River.Rows())
	}
	t.Working = slices.Clone(t.Working)
	was := t.Working[b]
	if was == nil {
		was = []study.Window{{}}
	}
	left := []study.Window{}
	for _, w := range was {
		if before := w; before.From.Before(from) {
			if before.To.IsZero() || before.To.After(from) {
				before.To = from
			}
			left = append(left, before)
		}
		if after := w; after.To.IsZero() || after.To.After(to) {
			if after.From.Before(to) {
				after.From = to
			}
			left = append(left, after)
		}
	}
	if len(left) == 0 {
		// A row without windows always works; one that never does worked long ago.
		left = append(left, study.Window{From: time.UnixMilli(0), To: time.UnixMilli(1)})
	}
	t.Working[b] = left
}

// works tells whether row b works at a moment.
func (t *Truth) works(b int, ms int64) bool {
	if t.Working == nil || t.Working[b] == nil {
		return true
	}
	return slices.ContainsFunc(t.Working[b], func(w study.Window) bool {
		return (w.From.IsZero() || ms >= w.From.UnixMilli()) && (w.To.IsZero() || ms < w.To.UnixMilli())
	})
}

// names are the keys of a map, in order.
func names[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }

func share(what string, p float64) error {
	if !(p >= 0 && p <= 1) {
		return fmt.Errorf("%s: %v is no share between 0 and 1", what, p)
	}
	return nil
}

// link is how effects act on the survival of reach k.
func (t *Truth) link(k int) likelihood.Link {
	if t.PerKm {
		return likelihood.Link{Kind: likelihood.Rate, Length: t.River.ReachKm(k)}
	}
	return likelihood.Link{Kind: likelihood.Logit}
}

// alike tells whether all fish of a cohort are alike, so that they can be
// drawn by the number.
func (t *Truth) alike() bool {
	return len(t.Covariates) == 0 && t.Violations == Violations{} && !t.timed()
}

// PerKmSurvival is the survival of each reach under a mortality of rate per km.
func PerKmSurvival(r *history.River, rate float64) []float64 {
	if r == nil || len(r.Sites) == 0 {
		return nil
	}
	out := make([]float64, len(r.Sites)-1)
	for k := range out {
		out[k] = math.Exp(-rate * r.ReachKm(k))
	}
	return out
}

// Outage is what became of the living fish that passed a row which did not work
// all the time, over all replicates.
type Outage struct {
	At     string `json:"at"`     // the row
	Passed int    `json:"passed"` // living fish that passed it, by as_of while the season runs
	Idle   int    `json:"idle"`   // of these, while it did not work
}
