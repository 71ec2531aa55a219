package cjs

import (
	"math"
	"slices"
)

// doubts sets [Passed.Doubts] by the warnings of the finished fit.
func (f *Fit) doubts() {
	river := f.doubtsOfFit()
	few := f.fewSeenBelow()
	for i := range f.Passed {
		row := &f.Passed[i]
		row.Doubts = append(slices.Clone(river), f.doubtsOf(&row.PassedShare, row.Site)...)
		if f.restsOnFew(row, few) {
			row.Doubts = append(row.Doubts, WarnSparse)
		}
		if f.parts(row) {
			row.Doubts = append(row.Doubts, WarnSeparated)
		}
		slices.SortStableFunc(row.Doubts, func(a, b string) int {
			return slices.Index(WarningIDs, a) - slices.Index(WarningIDs, b)
		})
	}
}

// doubtsOfFit are those that concern every estimate.
func (f *Fit) doubtsOfFit() (out []string) {
	for _, id := range []string{WarnNotConverged, WarnSpeeds, WarnOneLaw, WarnSeveralMaxima, WarnClosedForm} {
		if f.warned(id) {
			out = append(out, id)
		}
	}
	if f.accused != nil { // of which the warning may come later
		out = append(out, WarnProfileBeats)
	}
	return out
}

func (f *Fit) warned(id string) bool {
	return slices.ContainsFunc(f.Warnings, func(w Warning) bool { return w.ID == id })
}

// doubtsOf are those of a share that passed site k that its status and its
// interval tell.
func (f *Fit) doubtsOf(e *Estimate, k int) (out []string) {
	switch e.Status {
	case TooEarly:
		out = append(out, WarnTooEarly)
	case Inseparable, Absent:
		return append(out, WarnInseparable)
	case Held:
		return nil
	case Borrowed:
		if k == f.Problem.Layout.Sites()-1 && f.warned(WarnModelAlone) {
			out = append(out, WarnModelAlone)
		}
	}
	if math.IsNaN(e.Low) || math.IsNaN(e.High) {
		out = append(out, WarnLimit)
	}
	return out
}

// restsOnFew tells whether the share that passed is hardly known, or rests on a
// detection at the site that too few fish seen again tell. What else it is made
// of may be known badly where the product is known well.
func (f *Fit) restsOnFew(row *Passed, few []seenBelow) bool {
	return hardlyKnown(&row.PassedShare) ||
		slices.ContainsFunc(few, func(s seenBelow) bool { return s.site == row.Site && overlap(s.of, row.Of) })
}

// parts tells whether a number parts fish in a reach above the row's site.
func (f *Fit) parts(row *Passed) bool {
	return slices.ContainsFunc(f.parting, func(p parted) bool {
		k := f.Problem.Layout.Reach(p.slot)
		return k >= 0 && k < row.Site
	})
}

// overlap tells whether fish can be of both a and b.
func overlap(a, b []Category) bool {
	for _, x := range a {
		for _, y := range b {
			if x.Name == y.Name && x.Level != y.Level {
				return false
			}
		}
	}
	return true
}
