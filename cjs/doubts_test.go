package cjs_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// byCount are histories of a river of undivided sites: fish of each cohort by
// the sites that saw them, as bits.
func byCount(sites int, cohorts []string, fish []map[uint64]int) *history.Histories {
	h := &history.Histories{Cohorts: cohorts}
	if len(cohorts) > 1 {
		h.CohortColumn = "cohort"
	}
	for _, name := range []string{"Mill Lade", "Alder Ford", "Scar Weir", "Tidehead"}[:sites] {
		h.River.Sites = append(h.River.Sites, history.Site{Name: name})
	}
	for c, of := range fish {
		for seen := range uint64(1) << (sites - 1) {
			if n := of[seen]; n > 0 {
				h.Entry, h.Seen = append(h.Entry, 0), append(h.Seen, seen)
				h.End, h.Cohort, h.Count = append(h.End, history.Open), append(h.Cohort, int32(c)), append(h.Count, int32(n))
			}
		}
	}
	return h
}

// doubtsOf are those of the rows of a fit, by group and site.
func doubtsOf(f *cjs.Fit) map[string][]string {
	out := map[string][]string{}
	for _, row := range f.Passed {
		of := "all"
		if len(row.Of) > 0 {
			of = row.Of[0].Level
		}
		out[of+" "+f.Problem.Histories.River.Sites[row.Site].Name] = row.Doubts
	}
	return out
}

// TestDoubtsAreOfTheirRow: a warning is a doubt of those rows that it concerns
// and of no other; an estimate at its bound is none.
func TestDoubtsAreOfTheirRow(t *testing.T) {
	fit := func(h *history.Histories, survival, detection string) *cjs.Fit {
		return mustFit(t, model.Input{Histories: h}, model.Spec{Survival: survival, Detection: detection}, cjs.Options{})
	}
	many := map[uint64]int{0b000: 60, 0b001: 60, 0b011: 60, 0b010: 60, 0b111: 90, 0b110: 90, 0b101: 90, 0b100: 90}
	// Of the second cohort four fish are seen at Alder Ford and again below it.
	thin := map[uint64]int{0b000: 12, 0b001: 8, 0b011: 2, 0b101: 2, 0b010: 40, 0b110: 40, 0b100: 40}
	f := fit(byCount(4, []string{"early", "late"}, []map[uint64]int{many, thin}), "reach by cohort", "site by cohort")
	got := doubtsOf(f)
	assert.Empty(t, got["early Alder Ford"])
	assert.Empty(t, got["early Scar Weir"])
	assert.Equal(t, []string{cjs.WarnInseparable}, got["early Tidehead"])
	assert.Contains(t, got["late Alder Ford"], cjs.WarnSparse)
	assert.Contains(t, got["all Alder Ford"], cjs.WarnSparse, "all fish are made of the late ones too")
	assert.Equal(t, []string{cjs.WarnInseparable}, got["late Tidehead"])

	// Shared by the cohorts nothing is thin any more.
	got = doubtsOf(fit(byCount(4, []string{"early", "late"}, []map[uint64]int{many, thin}), "reach", "site"))
	assert.Empty(t, got["late Alder Ford"])
	assert.Empty(t, got["all Alder Ford"])

	// More fish seen at Tidehead, by their share, than at Alder Ford alive:
	// survival of the first reach comes out as 1, which is an answer.
	f = fit(byCount(4, []string{"all"}, []map[uint64]int{{0b001: 5, 0b011: 100, 0b111: 100, 0b110: 130, 0b101: 60, 0b100: 60, 0b010: 130}}), "reach", "site")
	require.Equal(t, cjs.Boundary, f.Passed[0].PassedShare.Status)
	assert.Contains(t, ids(f), cjs.WarnBoundary)
	assert.Empty(t, doubtsOf(f)["all Alder Ford"])
}

func ids(f *cjs.Fit) (out []string) {
	for _, w := range f.Warnings {
		out = append(out, w.ID)
	}
	return out
}

// TestModelAloneIsADoubtOfTheLastSite and of no other; where detection is
// shared with other sites on purpose there is none.
func TestModelAloneIsADoubtOfTheLastSite(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	in := dipper(t, "dipper.toml")
	f := mustFit(t, in, model.Spec{Survival: "reach + sex", Detection: "site"}, cjs.Options{})
	n := 0
	for _, row := range f.Passed {
		if row.Site == f.Problem.Layout.Sites()-1 {
			n++
			assert.Contains(t, row.Doubts, cjs.WarnModelAlone)
		} else {
			assert.NotContains(t, row.Doubts, cjs.WarnModelAlone)
		}
	}
	assert.Greater(t, n, 0)
	for _, row := range mustFit(t, in, model.Spec{Survival: "same", Detection: "same"}, cjs.Options{}).Passed {
		assert.Empty(t, row.Doubts)
	}
}
