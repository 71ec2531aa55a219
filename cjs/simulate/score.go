package simulate

import (
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat"

	"example.org/unseen/cjs"
)

// Result is what became of a study's replicates From to To, both included,
// counted from 1.
type Result struct {
	Study      string         `json:"study"`      // short name
	About      string         `json:"about"`      // description
	Model      string         `json:"model"`      // in words
	Seed       uint64         `json:"seed"`       // of the random numbers
	From       int            `json:"from"`       // first replicate, counted from 1
	To         int            `json:"to"`         // last replicate
	Replicates int            `json:"replicates"` // finished
	Failed     map[string]int `json:"failed"`     // why → replicates
	Warned     map[string]int `json:"warned"`     // warning → replicates
	// Doubted counts the replicates with a warning that is about the data,
	// not one that the design always has (see [AboutDesign]).
	Doubted int `json:"doubted"`
	// Outages are the rows that did not work all the time.
	Outages    []Outage   `json:"outages,omitempty"`
	Quantities []Quantity `json:"quantities"`

	judged bool        // the fits say what they doubt
	made   []replicate // by their index less From; nil unless they are kept
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
	// Missed counts replicates without an interval though the sample could tell
	// (see [information]), those that failed among them; Impossible those
	// whose sample could not.
	Missed     int `json:"missed,omitempty"`
	Impossible int `json:"impossible,omitempty"`
	// Truth is the mean true value, Bias the mean of estimate − truth.
	Truth  float64 `json:"truth"`
	Bias   float64 `json:"bias"`
	BiasSE float64 `json:"bias_se"` // Monte Carlo standard error of Bias
	// SD is the real spread of estimate − truth, SE the root mean square of
	// its estimates. With one Given, BiasSE and SD are 0 and mean nothing.
	SD float64 `json:"sd"`
	SE float64 `json:"se"`
	// Covered counts intervals that contain the true value; Low and High those that
	// lie wholly below and above it.
	Covered int     `json:"covered"`
	Low     int     `json:"low"`
	High    int     `json:"high"`
	Width   float64 `json:"width"`
	// Undoubted is, of shares that passed, what became of the replicates in
	// which no warning concerned the estimate ([cjs.Passed.Doubts]); nil else.
	Undoubted *Undoubted `json:"undoubted,omitempty"`
}

// Undoubted is what became of one estimate in the replicates without a warning
// about it. No warning excuses a missing answer: those stand in Quantity.Missed.
type Undoubted struct {
	Given     int `json:"given"`     // replicates with an estimate
	Intervals int `json:"intervals"` // replicates with an interval
	// Bias, BiasSE, SD, Covered, Low and High are as in [Quantity].
	Bias    float64 `json:"bias"`
	BiasSE  float64 `json:"bias_se"`
	SD      float64 `json:"sd"`
	Covered int     `json:"covered"`
	Low     int     `json:"low"`
	High    int     `json:"high"`
	// MedianError is the median of estimate − truth.
	MedianError float64 `json:"median_error"`
}

// Coverage is the share of the replicates whose interval holds the truth, of
// those whose sample could tell: one without an answer does not hold it.
func (q *Quantity) Coverage() float64 { return float64(q.Covered) / float64(q.Answerable()) }

// Answerable counts the replicates whose sample could tell.
func (q *Quantity) Answerable() int { return q.Intervals + q.Missed }

// answer says what became of the interval of an estimate.
type answer uint8

const (
	interval   answer = iota
	noneAsked         // held, or estimates only
	missed            // none, though the sample could tell
	impossible        // none, for the sample could not
)

type key struct{ kind, of, at string }

// estimate is one quantity of one replicate.
type estimate struct {
	key                         key
	truth, value, se, low, high float64
	answer                      answer
	doubted                     bool
}

// AboutDesign tells whether a warning is about the design of the study and the
// model, and so stands in every replicate whatever its data.
func AboutDesign(id string) bool {
	return id == cjs.WarnInseparable || id == cjs.WarnModelAlone || id == cjs.WarnRowsUntested
}

type replicate struct {
	finished  bool
	model     string
	failed    string
	warned    []string
	estimates []estimate
	outages   []Outage
}

// sum adds up the replicates in their order.
func (r *Result) sum(all []replicate) {
	index := map[key]int{}
	var tallies []tally
	failed := 0
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
			failed++
		}
		for _, o := range x.outages {
			j := slices.IndexFunc(r.Outages, func(x Outage) bool { return x.At == o.At })
			if j < 0 {
				j, r.Outages = len(r.Outages), append(r.Outages, Outage{At: o.At})
			}
			r.Outages[j].Passed += o.Passed
			r.Outages[j].Idle += o.Idle
		}
		doubted := false
		for _, w := range x.warned {
			r.Warned[w]++
			doubted = doubted || !AboutDesign(w)
		}
		if doubted {
			r.Doubted++
		}
		for i := range x.estimates {
			e := &x.estimates[i]
			j, ok := index[e.key]
			if !ok {
				j = len(r.Quantities)
				index[e.key] = j
				q := Quantity{Kind: e.key.kind, Of: e.key.of, At: e.key.at}
				if e.key.kind == "passed" && r.judged {
					q.Undoubted = new(Undoubted)
				}
				r.Quantities = append(r.Quantities, q)
				tallies = append(tallies, tally{})
			}
			r.Quantities[j].count(e, &tallies[j])
		}
	}
	for j := range r.Quantities {
		r.Quantities[j].Missed += failed
		r.Quantities[j].finish(&tallies[j])
	}
	slices.SortStableFunc(r.Quantities, func(a, b Quantity) int { return strings.Compare(a.Kind, b.Kind) })
}

// tally is what is added up of a quantity.
type tally struct {
	answered    float64
	diffs, sure []float64 // estimate − truth, of all and without a doubt
}

// count adds one estimate.
func (q *Quantity) count(e *estimate, t *tally) {
	given, withInterval := !math.IsNaN(e.value), e.answer == interval
	if given || withInterval {
		t.answered++
		q.Truth += e.truth
	}
	if given {
		q.Given++
		t.diffs = append(t.diffs, e.value-e.truth)
		if !math.IsNaN(e.se) {
			q.SE += e.se * e.se
		}
	}
	switch e.answer {
	case interval:
		q.Intervals++
		q.Width += e.high - e.low
		e.score(&q.Covered, &q.Low, &q.High)
	case missed:
		q.Missed++
	case impossible:
		q.Impossible++
	}
	if u := q.Undoubted; u != nil && !e.doubted {
		if given {
			u.Given++
			t.sure = append(t.sure, e.value-e.truth)
		}
		if withInterval {
			u.Intervals++
			e.score(&u.Covered, &u.Low, &u.High)
		}
	}
}

// score counts an interval as one that holds the truth, or that lies wholly
// below or above it.
func (e *estimate) score(covered, low, high *int) {
	switch {
	case e.high < e.truth-1e-12:
		*low++
	case e.low > e.truth+1e-12:
		*high++
	default:
		*covered++
	}
}

// finish turns sums into means.
func (q *Quantity) finish(t *tally) {
	if t.answered > 0 {
		q.Truth /= t.answered
	}
	if q.Intervals > 0 {
		q.Width /= float64(q.Intervals)
	}
	if n := float64(q.Given); n > 0 {
		q.SE = math.Sqrt(q.SE / n)
		q.Bias, q.SD, q.BiasSE = spread(t.diffs)
	}
	if u := q.Undoubted; u != nil && u.Given > 0 {
		u.Bias, u.SD, u.BiasSE = spread(t.sure)
		u.MedianError = median(t.sure)
	}
}

// median sorts v.
func median(v []float64) float64 {
	slices.Sort(v)
	n := len(v)
	return (v[(n-1)/2] + v[n/2]) / 2
}

// spread is the mean of v, its standard deviation, and the standard error of the
// mean; of one value there is no spread, and both are 0 as records hold no NaN.
func spread(v []float64) (mean, sd, se float64) {
	if len(v) < 2 {
		return v[0], 0, 0
	}
	mean, sd = stat.MeanStdDev(v, nil)
	return mean, sd, stat.StdErr(sd, float64(len(v)))
}
