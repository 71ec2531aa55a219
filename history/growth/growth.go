// Package growth says how tagged fish grew between captures, and looks for
// typing errors in the lengths and weights of the tagging table.
//
// Begin with [New]; ExampleNew shows it, ExampleCondition a single fish.
// Lengths are in mm, weights in g, times in days.
package growth

import (
	"cmp"
	"errors"
	"math"
	"slices"

	"example.org/unseen/history"
)

// The fish's columns that growth is about, by our names for them.
const (
	Weight    = "weight_g"
	TagWeight = "tag_weight_g"
	Species   = "species"
	Age       = "age"
)

// Lengths are the names a length can have; the first that the tagging table
// has is used.
var Lengths = []string{"fork_length_mm", "total_length_mm", "length_mm"}

// Recaptures are the later measurements of tagged fish.
type Recaptures struct {
	// Length is the name of the length's column, one of [Lengths]; "" where
	// only weights were taken.
	Length string
	// Captures are in the order of the table.
	Captures []Capture
	// Accounting says where the table's records ended.
	Accounting history.Accounting
	// Findings are columns called almost as one that would be read.
	Findings []history.Finding
}

// Capture is one measurement of one fish.
type Capture struct {
	// Fish is its record in the histories.
	Fish int32
	// Time is in Unix milliseconds.
	Time int64
	// Place is where, as the table has it; "" where it does not say.
	Place string
	// LengthMM and WeightG are positive, or NaN where not measured.
	LengthMM, WeightG float64
	// Line is the record's line; 0 for the tagging.
	Line int
}

// Options of the growth. The zero value is the documented default.
type Options struct {
	// TagWeightG is the weight in air of the tags in grams, for fish without
	// a weight of their own tag; 0 means not known.
	TagWeightG float64
}

// Flag is a set of what was noticed about a measurement; nothing is left out
// for it.
type Flag uint8

const (
	// Shrank: shorter than before.
	Shrank Flag = 1 << iota
	// TooFast: grew by more than [FastMMPerDay].
	TooFast
	// OddCondition: condition factor outside [LowCondition] to
	// [HighCondition], at either end.
	OddCondition
	// NotLater: not later than the capture before, so that there is no rate.
	NotLater
	// OffTheLine: far from the line of weight on length.
	OffTheLine
	// NotPositive: a length or weight that is zero or negative; it counts as
	// not measured.
	NotPositive
)

// The limits of the flags are common practice.
const (
	FastMMPerDay  = 2.0
	LowCondition  = 0.5
	HighCondition = 2.0
)

var flagNames = []string{"shorter than before", "more than 2 mm/day", "condition factor outside 0.5–2", "not later than the capture before", "far from the length–weight line", "not above zero"}

// Names are the flags in words; none for a measurement without any.
func (f Flag) Names() []string { return history.FlagNames(f, flagNames) }

// Condition is Fulton's condition factor K = 10⁵ W/L³, W in grams and L in
// millimetres (Fulton 1904, in this form the weight in grams over the cubed
// length in centimetres, times 100).
func Condition(lengthMM, weightG float64) float64 {
	return 1e5 * weightG / (lengthMM * lengthMM * lengthMM)
}

// oddCondition tells a condition factor outside the limits; NaN is not.
func oddCondition(k float64) bool { return k < LowCondition || k > HighCondition }

// Growth is one fish between one capture and the next.
type Growth struct {
	Fish int32 // index in the histories
	// Interval counts the fish's intervals from its tagging: 1, 2, ….
	Interval int
	From, To Capture
	Days     float64
	// MMPerDay and GPerDay are what was gained over the days; LengthPercent
	// and WeightPercent the specific growth rates, 100 (ln x₂ − ln x₁)/days,
	// in percent per day. NaN where not measured at both ends.
	MMPerDay, GPerDay            float64
	LengthPercent, WeightPercent float64
	// Condition at both ends; NaN without length or weight.
	ConditionFrom, ConditionTo float64
	Flags                      Flag
}

// All stands for the fish of all cohorts, or for all intervals.
const All = -1

// Group summarises the growth of a cohort over one of the fish's intervals.
type Group struct {
	// Cohort is its index, or All; Interval counts from 1, or is All.
	Cohort, Interval int
	// Fish is the number of intervals; Flagged those with any flag, which
	// are in the summaries all the same.
	Fish, Flagged                int
	Days                         history.Summary
	MMPerDay, GPerDay            history.Summary
	LengthPercent, WeightPercent history.Summary
	ConditionFrom, ConditionTo   history.Summary
}

// Result is what the tagging table and the recaptures say.
type Result struct {
	// Length is the name of the column of lengths, "" without any.
	Length string
	// Growth is of every fish caught again, in the order of the fish.
	Growth []Growth
	Groups []Group
	// NoTime is the number of fish caught again whose tagging has no time, so
	// that growth is counted from the first recapture on.
	NoTime int
	// Lines are the lengths and weights at tagging, by species.
	Lines []Line
	// NoLine is the number of fish measured and weighed that are held to no
	// line, NoSpecies those of them without a species; the others are of too
	// few to make one.
	NoLine, NoSpecies int
	// Odd are the fish whose measurements at tagging look wrong.
	Odd []Odd
	// Tagging summarises the tagging table.
	Tagging []Tagged
	// TagBurden is nil where no tag weight or no fish weight is known.
	TagBurden *Burden
}

// Line is the regression of weight on length at tagging, on the natural
// logarithms: ln W = Intercept + Slope ln L, W in grams, L in millimetres, by
// least squares without the fish far from it.
type Line struct {
	Species string // "" where the table names none
	// Fish is the number with both measurements, Off those far from the line.
	Fish, Off                int
	Intercept, Slope         float64
	InterceptSE, SlopeSE     float64
	SlopeLow, SlopeHigh      float64 // 95 %
	ResidualSD, Explained    float64 // Explained is R²
	meanX, squaresX, degrees float64
	used                     float64
}

// Odd is a fish whose measurements at tagging look wrong.
type Odd struct {
	Fish              int32   // index in the histories
	LengthMM, WeightG float64 // in mm and g
	Condition         float64 // Fulton's factor K
	// Residual is its distance from the line in standard deviations of what
	// a fish not used in the line would show (Student's t); NaN without one.
	Residual float64
	Flags    Flag
	// Guess is a slip that would explain it, such as "weight 48.7 for 487";
	// "" where none does.
	Guess string
}

// Tagged summarises the tagged fish of one species, age and cohort.
type Tagged struct {
	// Of are the names and values of what tells the fish apart, of species,
	// age and cohort those that the table has; empty: all fish.
	Of []Category
	// Fish is the number released.
	Fish                      int
	Length, Weight, Condition history.Summary
}

// Category is a column and a value of it; the value is "missing" where the
// table has none.
type Category struct{ Name, Value string }

// Burden is the weight of the tags, in percent of the fish's weights.
type Burden struct {
	// Percent is of the fish with both weights known.
	Percent history.Summary
	// Above counts the fish above each of the [BurdenRules].
	Above []int
}

// measures are the fish at tagging.
type measures struct {
	h              *history.Histories
	length, weight []float64
	flags          []Flag
}

// measured is a copy of a column's numbers; all NaN without one.
func measured(c *history.Column, n int) []float64 {
	if c != nil {
		return slices.Clone(c.Value)
	}
	x := make([]float64, n)
	for i := range x {
		x[i] = math.NaN()
	}
	return x
}

// grow follows each fish from capture to capture.
func (r *Result) grow(m *measures, caught *Recaptures) error {
	order := make([]int, len(caught.Captures))
	for i := range order {
		order[i] = i
		if f := caught.Captures[i].Fish; f < 0 || int(f) >= m.h.Len() {
			return errors.New("a recapture is of no fish of the study")
		}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		x, y := &caught.Captures[a], &caught.Captures[b]
		return cmp.Or(cmp.Compare(x.Fish, y.Fish), cmp.Compare(x.Time, y.Time))
	})
	var last Capture
	interval := 0
	for n, at := range order {
		c := caught.Captures[at]
		if n == 0 || c.Fish != last.Fish {
			i := c.Fish
			last = Capture{Fish: i, Time: history.NoTime, LengthMM: m.length[i], WeightG: m.weight[i]}
			if m.h.Released != nil {
				last.Time = m.h.Released[i]
			}
			interval = 0
			if last.Time == history.NoTime {
				r.NoTime++
				last = c
				continue
			}
		}
		interval++
		r.Growth = append(r.Growth, between(last, c, interval))
		last = c
	}
	r.groups(m.h)
	return nil
}

const dayMs = 24 * 3600 * 1000

// between is the growth of a fish from one capture to the next.
func between(from, to Capture, interval int) Growth {
	g := Growth{Fish: to.Fish, Interval: interval, From: from, To: to, Days: float64(to.Time-from.Time) / dayMs,
		ConditionFrom: Condition(from.LengthMM, from.WeightG), ConditionTo: Condition(to.LengthMM, to.WeightG)}
	days := g.Days
	if days <= 0 {
		days = math.NaN()
		g.Flags |= NotLater
	}
	g.MMPerDay = (to.LengthMM - from.LengthMM) / days
	g.GPerDay = (to.WeightG - from.WeightG) / days
	g.LengthPercent = 100 * math.Log(to.LengthMM/from.LengthMM) / days
	g.WeightPercent = 100 * math.Log(to.WeightG/from.WeightG) / days
	if to.LengthMM < from.LengthMM {
		g.Flags |= Shrank
	}
	if g.MMPerDay > FastMMPerDay {
		g.Flags |= TooFast
	}
	if oddCondition(g.ConditionFrom) || oddCondition(g.ConditionTo) {
		g.Flags |= OddCondition
	}
	return g
}

// groups summarises: all fish, then each cohort; of each all intervals, then
// one after the other.
func (r *Result) groups(h *history.Histories) {
	most := 0
	for i := range r.Growth {
		most = max(most, r.Growth[i].Interval)
	}
	cohorts := []int{All}
	if len(h.Cohorts) > 1 {
		for c := range h.Cohorts {
			cohorts = append(cohorts, c)
		}
	}
	intervals := []int{All}
	if most > 1 {
		for k := 1; k <= most; k++ {
			intervals = append(intervals, k)
		}
	}
	for _, c := range cohorts {
		for _, k := range intervals {
			g := Group{Cohort: c, Interval: k}
			var x [7][]float64
			for i := range r.Growth {
				y := &r.Growth[i]
				if c != All && int(h.Cohort[y.Fish]) != c || k != All && y.Interval != k {
					continue
				}
				g.Fish++
				if y.Flags != 0 {
					g.Flagged++
				}
				for j, v := range [7]float64{y.Days, y.MMPerDay, y.GPerDay, y.LengthPercent, y.WeightPercent, y.ConditionFrom, y.ConditionTo} {
					x[j] = append(x[j], v)
				}
			}
			if g.Fish == 0 {
				continue
			}
			for j, s := range [7]*history.Summary{&g.Days, &g.MMPerDay, &g.GPerDay, &g.LengthPercent, &g.WeightPercent, &g.ConditionFrom, &g.ConditionTo} {
				*s = history.Summarise(x[j], nil)
			}
			r.Groups = append(r.Groups, g)
		}
	}
}
