package main

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/assess"
	"example.org/unseen/cjs/compare"
	"example.org/unseen/cjs/opinion"
	"example.org/unseen/cjs/plan"
	"example.org/unseen/cjs/travel"
	"example.org/unseen/cmd/unseen/internal/explain"
	"example.org/unseen/history/rule"
)

// TestEverythingIsExplained: every ID the program can give has its text.
func TestEverythingIsExplained(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	ids := slices.Concat(cjs.WarningIDs, compare.WarningIDs, opinion.WarningIDs, plan.WarningIDs, assess.WarningIDs, travel.WarningIDs)
	for _, s := range []cjs.Status{cjs.Inseparable, cjs.Boundary, cjs.Borrowed, cjs.Held, cjs.TooEarly, cjs.Absent} {
		ids = append(ids, string(s))
	}
	for id := rule.None + 1; id < rule.Count; id++ {
		ids = append(ids, rule.Of(id).ID)
	}
	for _, r := range rule.Reports {
		ids = append(ids, r.ID)
	}
	for _, id := range ids {
		code, out, stderr := runHere(t.Context(), t, "explain", id)
		assert.Equal(t, exitUsable, code, "%s: %s", id, stderr)
		assert.Greater(t, len(out), 100, id)
		assert.NotContains(t, out, "](", "a link is shown as its words")
		assert.NotContains(t, out, "how often it warns", "a remark that only leads elsewhere")
		assert.NotContains(t, out, "as above", "nothing stands above it here")
	}
}

func TestExplain(t *testing.T) {
	assert.Equal(t, explain.Find("few-fish"), explain.Find("[FEW_FISH]"))
	// The word of a status is also the ID of a warning and a term of the glossary: all are told.
	assert.Len(t, explain.Find("too early"), 3)
	assert.Empty(t, explain.Find("few"))
	// Terms of the glossary and keys of the study file have their text too.
	for _, word := range []string{"AICc", "QAICc", "aicc", "working", "as_of", "cohort", "stays", "drift", "m-array"} {
		if found := explain.Find(word); word == "m-array" {
			assert.Empty(t, found)
		} else {
			assert.NotEmpty(t, found, word)
		}
	}

	code, out, _ := runHere(t.Context(), t, "explain")
	assert.Equal(t, exitUsable, code)
	assert.Contains(t, out, "turned_back")
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"explain", "few-fsh"}, `did you mean "few-fish"?`},
		{[]string{"explain", "zzzzzzzz"}, "`unseen explain` lists what there is"},
		{[]string{"explain", "few-fish", "outage"}, "takes one ID"},
	} {
		code, _, stderr := runHere(t.Context(), t, c.args...)
		assert.Equal(t, exitCall, code)
		assert.Contains(t, stderr, c.want)
	}
}
