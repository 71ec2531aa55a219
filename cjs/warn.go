package cjs

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// The stable IDs of warnings; docs/convergence.md has a heading for each.
const (
	WarnNotConverged  = "not-converged"
	WarnBoundary      = "boundary-estimate"
	WarnInseparable   = "inseparable"
	WarnNotEstimable  = "not-estimable-here"
	WarnSeveralMaxima = "several-maxima"
	WarnRows          = "rows-not-independent"
	WarnRowsUntested  = "rows-not-tested"
	WarnProfileBeats  = "profile-beats-fit"
	WarnClosedForm    = "closed-form-differs"
	WarnSparse        = "few-fish"
	WarnDropped       = "fish-left-out"
	WarnTooEarly      = "too-early"
	// WarnSeparated: a number parts fish whose probability is 0 from those
	// where it is 1.
	WarnSeparated = "separated"
	// WarnLimit: an end of an interval could not be found.
	WarnLimit      = "limit-not-found"
	WarnModelAlone = "model-alone"
)

// WarnRetention: fewer tags were kept in the trial than fish passed with theirs.
const WarnRetention = "retention-below-passed"

// WarnOutage: a row detected no fish for so long that it may have stood still,
// and the study does not say so.
const WarnOutage = "suspected-outage"

// WarnOneLaw: fish differ in how they migrate where the model has one law of travel,
// and that law tells what passed while a row stood still.
const WarnOneLaw = "travel-law-doubtful"

// WarnPassedBelowSeen: the model says that fewer passed than were seen.
const WarnPassedBelowSeen = "passed-below-seen"

// WarnSpeeds: fish travel the stretches of the river by different laws, and the
// model has one for all.
const WarnSpeeds = "speeds-differ"

// WarningIDs are all IDs in the order of weight.
var WarningIDs = []string{WarnNotConverged, WarnTooEarly, WarnSpeeds, WarnOneLaw, WarnOutage, WarnProfileBeats, WarnSeveralMaxima, WarnNotEstimable,
	WarnClosedForm, WarnInseparable, WarnModelAlone, WarnPassedBelowSeen, WarnRetention, WarnSeparated, WarnBoundary, WarnLimit, WarnRows, WarnRowsUntested, WarnSparse, WarnDropped}

// nearMaximum: a second maximum this much higher in −2 ln L, or more, is another
// story that the data do not tell: e⁵ = 148 to 1 against it.
const nearMaximum = 10

// byWeight puts the warnings in the order of WarningIDs; those of one ID keep
// theirs.
func (f *Fit) byWeight() {
	slices.SortStableFunc(f.Warnings, func(a, b Warning) int {
		return slices.Index(WarningIDs, a.ID) - slices.Index(WarningIDs, b.ID)
	})
}

func (f *Fit) warning(id, about, format string, args ...any) {
	f.Warnings = append(f.Warnings, Warning{ID: id, About: about, Message: history.Say(format, args...)})
}

func pWords(p float64) string {
	if p < 0.001 {
		return "< 0.001"
	}
	return fmt.Sprintf("%.3f", p)
}

// warnProducts says once of each reach and site, for all fish it holds of, that
// survival and detection stand side by side.
func (f *Fit) warnProducts() {
	river := &f.Problem.Histories.River
	said := make([]bool, len(f.Products))
	for i, pr := range f.Products {
		if said[i] {
			continue
		}
		var of []string
		for k := i; k < len(f.Products); k++ {
			if x := &f.Products[k]; x.From == pr.From && x.Site == pr.Site {
				said[k] = true
				if len(x.Of) > 0 {
					of = append(of, ofWords(x.Of))
				}
			}
		}
		about, whom := strings.Join(of, "; "), ""
		all := 0
		for _, x := range f.Survival {
			if x.From == pr.From && len(x.Of) > 0 {
				all++
			}
		}
		switch {
		case len(of) > 1 && len(of) == all:
			var names []string
			for _, c := range pr.Of {
				names = append(names, c.Name)
			}
			whom = " for any " + strings.Join(names, " and ")
		case len(of) > 0:
			whom = " for " + list(of, 8)
		}
		site := river.Sites[pr.Site].Name
		f.warning(WarnInseparable, about, "Survival %s and detection at %s are not separately estimable%s: no fish are detected downstream. Only their product is estimable. A second row of antennas or test passes at %s, or a site farther down, would separate them.",
			river.Reach(pr.From), site, whom, site)
	}
}

// warnModelAlone tells where detection at the last site, though its own, is told
// from survival by nothing but what the model has reaches share.
func (f *Fit) warnModelAlone() {
	p := f.Problem
	last := p.Layout.Sites() - 1
	terms, err := model.Parse(p.Spec.Detection)
	own := err == nil && slices.ContainsFunc(terms, func(t []string) bool {
		return slices.Contains(t, "site") || slices.Contains(t, "row")
	})
	i := slices.IndexFunc(f.Passed, func(x Passed) bool {
		return x.Site == last && (x.PassedShare.Status == Borrowed || x.SoFar.Status == Borrowed)
	})
	if !own || i < 0 {
		return
	}
	river := &p.Histories.River
	site := river.Sites[last].Name
	f.warning(WarnModelAlone, site, "No fish are detected below %s: survival %s and detection there are separated only by the parameters that the model shares between reaches (survival: %s). If the reaches do not share them, the estimate can be far off. Report the upstream sites only, unless the shared parameters are justified; a second row of antennas or test passes at %s, a site farther down, or detection shared with other sites would make it identifiable.",
		site, river.Reach(last-1), p.Spec.Survival, site)
}

func ofWords(of []Category) string {
	var parts []string
	for _, c := range of {
		parts = append(parts, c.Name+" "+c.Level)
	}
	return strings.Join(parts, ", ")
}

func forWords(of []Category) string {
	if len(of) == 0 {
		return ""
	}
	return " for " + ofWords(of)
}

// warnNotEstimable names what the design could estimate but these data do not.
func (f *Fit) warnNotEstimable() {
	if f.Estimable < f.Parameters && len(f.Products) == 0 {
		var names []string
		for _, c := range f.Coefficients {
			if c.Status == Inseparable {
				names = append(names, c.Part+" "+c.Term)
			}
		}
		f.warning(WarnInseparable, "model", "The model has %d coefficients, of which the design identifies %d. Confounded with each other: %s. Leave one of the terms out, or hold a value.", f.Parameters, f.Estimable, list(names, 8))
	}
	if f.EstimableHere >= f.Estimable {
		return
	}
	var names []string
	// Of the product of the last reach and site another warning speaks.
	last := f.Problem.Layout.Sites() - 1
	if ownDetection(f.Problem, last) {
		last++
	}
	for _, s := range f.Survival {
		if s.Status == Inseparable && s.From+1 < last {
			names = append(names, "survival "+f.Problem.Histories.River.Reach(s.From)+forWords(s.Of))
		}
	}
	for _, d := range f.Detection {
		if d.Status == Inseparable && d.Site < last {
			names = append(names, "detection at "+f.rowName(d.Site, d.Row)+forWords(d.Of))
		}
	}
	for _, x := range f.Products {
		if x.Low == 0 && x.High == 1 { // while the season runs, of fish none of which came so far
			names = append(names, fmt.Sprintf("survival %s × detection at %s%s", f.Problem.Histories.River.Reach(x.From), f.Problem.Histories.River.Sites[x.Site].Name, forWords(x.Of)))
		}
	}
	if len(names) == 0 {
		for _, c := range f.Coefficients {
			if c.Status == Inseparable {
				names = append(names, c.Part+" "+c.Term)
			}
		}
	}
	f.warning(WarnNotEstimable, "data", "The design could estimate %d parameters, these data only %d: too few fish were detected where it matters. Not estimable with these data: %s. Try a model that shares values (leave out \"by cohort\").", f.Estimable, f.EstimableHere, list(names, 8))
}

func list(names []string, most int) string {
	if len(names) > most {
		return history.Say("%s and %d more", strings.Join(names[:most], "; "), len(names)-most)
	}
	return strings.Join(names, "; ")
}

// warnClosedForm holds the fit of a model in which nothing is shared to the
// closed form, an independent way to the same numbers.
func (f *Fit) warnClosedForm() {
	p := f.Problem
	if len(f.limits) > 0 || p.Timed() || p.Spec.SurvivalLink == "linear" || p.Spec.DetectionLink == "linear" || p.Layout.RowCount() != p.Layout.Sites()-1 || len(p.TestPasses) > 0 || len(p.Numbers) > 0 {
		return
	}
	whole := func(t model.Terms, river string) bool {
		if len(t) != 1 || t[0][0] != river {
			return false
		}
		return len(t[0])-1 == len(p.Categories)
	}
	if !whole(p.TermsOf(model.Survival), "reach") || !whole(p.TermsOf(model.Detection), "site") {
		return
	}
	for _, s := range f.Survival {
		if s.Status == Estimated && !math.IsNaN(s.Raw) && math.Abs(s.Value-s.Raw) > 1e-5 {
			f.warning(WarnClosedForm, p.Histories.River.Reach(s.From), "Survival %s%s is %.6f by the search and %.6f in closed form; the two should agree. Please report this.", p.Histories.River.Reach(s.From), forWords(s.Of), s.Value, s.Raw)
			return
		}
	}
}

const (
	// fewFish: detection at a site that fewer fish seen there tell, by being
	// seen again, is hardly known (common practice).
	fewFish = 5
	// leastWorth is the n p (1 − p) of the binomial that knows as much of a
	// probability as its estimate, 1/SE² on the logit scale. The coverage
	// studies of testdata/studies/README.md show that intervals of estimates worth
	// less miss their level.
	leastWorth = 3
)

// hardlyKnown tells whether an estimate inside (0, 1) is worth too little for its
// interval, unless that is by profile likelihood.
func hardlyKnown(e *Estimate) bool {
	if e.Status != Estimated && e.Status != Borrowed || e.Method == "profile" || !(e.Value > 0 && e.Value < 1) {
		return false
	}
	w := e.Value * (1 - e.Value) / e.SE
	return w*w < leastWorth
}

// warnSparse names what rests on too few fish for the interval to be trusted.
func (f *Fit) warnSparse() {
	p := f.Problem
	river := &p.Histories.River
	var seen []string
	for _, s := range f.fewSeenBelow() {
		seen = append(seen, history.Say("%s%s (%d)", river.Sites[s.site].Name, forWords(s.of), s.below))
	}
	var rough []string
	look := func(what string, of []Category, e *Estimate) {
		if hardlyKnown(e) {
			rough = append(rough, fmt.Sprintf("%s%s (%.2f, standard error %.2f)", what, forWords(of), e.Value, e.SE))
		}
	}
	for i := range f.Survival {
		s := &f.Survival[i]
		look("survival "+river.Reach(s.From), s.Of, &s.Estimate)
	}
	for i := range f.Detection {
		d := &f.Detection[i]
		at := river.Sites[d.Site].Name
		if d.Row >= 0 {
			at = river.RowLabel(river.FirstRow(d.Site) + d.Row)
		}
		look("detection at "+at, d.Of, &d.Estimate)
	}
	for i := range f.Passed {
		row := &f.Passed[i]
		look("passed "+river.Sites[row.Site].Name, row.Of, &row.PassedShare)
	}
	if len(seen) > 0 {
		f.warning(WarnSparse, "data", "Few fish detected at a site were detected again below it: %s. Detection there, and survival on both sides, rest on them; intervals are rough. Try a model that shares detection.", list(seen, 6))
	}
	if len(rough) > 0 {
		f.warning(WarnSparse, "estimates", "Poorly estimated (few fish): %s. Intervals like these miss the true value more often than their level says, mostly because it is higher. Try intervals by profile likelihood, or a model that shares values between cohorts or sites; more precision needs more fish or better detection.", list(rough, 6))
	}
}

// warnTooEarly says where the data end too early to tell slow from dead.
func (f *Fit) warnTooEarly() {
	if f.told == nil {
		return
	}
	river := &f.Problem.Histories.River
	var names []string
	for i := range f.Passed {
		row := &f.Passed[i]
		if row.PassedShare.Status == TooEarly {
			names = append(names, river.Sites[row.Site].Name+forWords(row.Of))
		}
	}
	switch {
	case len(names) > 0 && f.running == nil:
		f.warning(WarnTooEarly, "working", "Too many fish may have passed while rows did not work to tell them from dead ones: %s. What passed is given as an interval only. Share values between cohorts or sites; test passes, or a row beside it that worked, would tell detection there.", list(names, 6))
	case len(names) > 0:
		f.warning(WarnTooEarly, "as_of", "Too early to tell slow fish from dead ones: %s. What will have passed by the season's end is given as an interval only. The share passed so far is better known; wait for more sightings, or share values between cohorts.", list(names, 6))
	}
	if f.Problem.NotYet > 0 {
		f.warning(WarnDropped, "as_of", "%d fish released after as_of are left out.", f.Problem.NotYet)
	}
}

// seenBelow is how many fish seen at a site were seen again farther down.
type seenBelow struct {
	of          []Category
	site, below int
}

// fewSeenBelow are the sites where too few of a group that detection differs by
// were seen again for detection there to be known.
func (f *Fit) fewSeenBelow() (out []seenBelow) {
	p := f.Problem
	for _, gr := range groups(p, p.DetectionCategories) {
		t := gr.tally(p)
		for k := 1; k < p.Layout.Sites()-1; k++ {
			below := 0
			for _, n := range t.Next[k] {
				below += n
			}
			if below < fewFish {
				out = append(out, seenBelow{gr.of, k, below})
			}
		}
	}
	return out
}

// rowName is a site, or a row of a divided one.
func (f *Fit) rowName(site, row int) string {
	s := &f.Problem.Histories.River.Sites[site]
	if row >= 0 {
		return s.Name + "/" + s.Rows[row]
	}
	return s.Name
}
