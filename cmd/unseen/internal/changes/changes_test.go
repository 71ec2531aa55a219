package changes

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history"
)

func estimate(x, se float64) wire.Estimate {
	return wire.Estimate{Estimate: wire.Number(x), SE: wire.Number(se), Low: wire.Number(x - 2*se), High: wire.Number(x + 2*se), Status: "estimated"}
}

func passed(site string, e wire.Estimate) wire.Passed {
	return wire.Passed{Of: map[string]string{}, Site: site, PassedPercent: e}
}

func fits() (before, now wire.Fit) {
	nan := math.NaN()
	before = wire.Fit{
		Head:      wire.Head{Inputs: []history.Input{{File: "a", SHA256: "1"}, {File: "b", SHA256: "2"}, {File: "gone", SHA256: "3"}}},
		Data:      wire.Data{Fish: 100, Accounting: &history.Accounting{Read: 50, SetAside: []history.Box{{Name: "test tag", Records: 4}}}},
		Model:     wire.Model{Survival: "reach"},
		Passed:    []wire.Passed{passed("Alder Ford", estimate(70, 2)), passed("Tidehead", estimate(40, 4)), passed("old", estimate(1, 1))},
		Survival:  []wire.Survival{{From: "A", To: "B", Of: map[string]string{"sex": "f", "cohort": "x"}, Estimate: estimate(.5, .1)}},
		Detection: []wire.Detection{{Site: "B", Row: "upper", Estimate: estimate(nan, nan)}},
		Warnings:  []wire.Warning{{ID: "gone"}, {ID: "stays", About: "B"}},
	}
	now = before
	now.Inputs = []history.Input{{File: "a", SHA256: "1"}, {File: "b", SHA256: "two"}, {File: "c", SHA256: "4"}}
	now.Data = wire.Data{Fish: 98, Accounting: &history.Accounting{Read: 57, SetAside: []history.Box{{Name: "unknown tag", Records: 7}}}}
	now.Model = wire.Model{Survival: "reach + cohort"}
	now.Passed = []wire.Passed{passed("Tidehead", estimate(46, 5)), passed("Alder Ford", estimate(70.01, 2))}
	now.Survival = []wire.Survival{{From: "A", To: "B", Of: map[string]string{"cohort": "x", "sex": "f"}, Estimate: estimate(.45, .1)}}
	now.Detection = []wire.Detection{{Site: "B", Row: "upper", Estimate: estimate(.3, .1)}}
	now.Warnings = []wire.Warning{{ID: "stays", About: "B"}, {ID: "stays", About: "C"}}
	return before, now
}

func TestBetween(t *testing.T) {
	before, now := fits()
	r := Between(wire.Head{}, "old.json", &before, &now)
	assert.Equal(t, []File{{"b", "changed"}, {"c", "added"}, {"gone", "removed"}}, r.Files)
	assert.Equal(t, []Word{{"survival", "reach", "reach + cohort"}}, r.Model)
	assert.Equal(t, []wire.Warning{{ID: "stays", About: "C"}}, r.WarningsNew)
	assert.Equal(t, []wire.Warning{{ID: "gone"}}, r.WarningsGone)

	counts := map[string][2]int64{}
	for _, c := range r.Counts {
		counts[c.What] = [2]int64{*c.Before, *c.Now}
	}
	assert.Equal(t, [2]int64{100, 98}, counts["fish"])
	assert.Equal(t, [2]int64{4, 0}, counts["set aside: test tag"], "a rule that sets nothing aside now")
	assert.Equal(t, [2]int64{0, 7}, counts["set aside: unknown tag"])

	// Those of now in their order, then those that are gone; the shift by hand.
	require.Len(t, r.Passed, 3)
	assert.Equal(t, "Tidehead", r.Passed[0].Place)
	assert.Equal(t, wire.Number(6), r.Passed[0].Shift)
	assert.Equal(t, wire.Number(1.5), r.Passed[0].ShiftSE, "6 points over the earlier standard error, 4")
	assert.Equal(t, "old", r.Passed[2].Place)
	assert.True(t, math.IsNaN(float64(r.Passed[2].Now.Estimate)))
	assert.True(t, r.Passed[2].Moved(100))

	// Fish are matched whatever the order of their categories.
	require.Len(t, r.Survival, 1)
	assert.InDelta(t, -0.5, float64(r.Survival[0].ShiftSE), 1e-12, "one subtraction and one division")
	assert.Equal(t, "B/upper", r.Detection[0].Place)
	assert.True(t, math.IsNaN(float64(r.Detection[0].Shift)))
	assert.True(t, r.Detection[0].Moved(100), "what could not be had and now can has moved")
	assert.False(t, r.Passed[1].Moved(0.05))
}

func TestPageSaysWhatMoved(t *testing.T) {
	before, now := fits()
	p := Between(wire.Head{}, "old.json", &before, &now).Page("", "")
	assert.Equal(t, []string{
		"70.0 % passed Alder Ford, as in the earlier result.", // the last site of now
		"1.0 % had passed old in the earlier result; now that cannot be said.",
		"What differs: b (changed), c (added), gone (removed) and survival.",
	}, p.Sections[0].Paragraphs)
	var tables []view.Table
	for _, s := range p.Sections {
		tables = append(tables, s.Tables...)
		if s.Heading == "Passed" {
			assert.Equal(t, []string{"1 estimate has not moved in the digits shown."}, s.Notes)
			assert.Len(t, s.Tables[0].Rows, 2, "Tidehead, and the site that is gone")
			assert.Len(t, s.Tables[1].Rows, 3, "a program gets all")
		}
	}
	assert.NotEmpty(t, tables)
	same := Between(wire.Head{}, "old.json", &before, &before).Page("", "")
	assert.Equal(t, "Nothing has changed: the same files, the same model, the same numbers.", same.Sections[0].Paragraphs[len(same.Sections[0].Paragraphs)-1])
}

// A study file that was edited is a file that changed. A result of an earlier
// version names none: it is neither added nor said to be the same.
func TestStudyFileIsCompared(t *testing.T) {
	before, _ := fits()
	before.Inputs = []history.Input{{File: "study.toml", SHA256: "1"}, {File: "fish.csv", SHA256: "2"}}
	said := func(was, is []history.Input) (files []File, last string) {
		old, now := before, before
		old.Inputs, now.Inputs = was, is
		r := Between(wire.Head{}, "old.json", &old, &now)
		p := r.Page("", "").Sections[0].Paragraphs
		return r.Files, p[len(p)-1]
	}
	files, last := said(before.Inputs, []history.Input{{File: "study.toml", SHA256: "other"}, {File: "fish.csv", SHA256: "2"}})
	assert.Equal(t, []File{{"study.toml", "changed"}}, files)
	assert.Equal(t, "What differs: study.toml (changed).", last)
	files, last = said(before.Inputs, []history.Input{{File: "may.toml", SHA256: "1"}, {File: "fish.csv", SHA256: "2"}})
	assert.Equal(t, []File{{"may.toml", "added"}, {"study.toml", "removed"}}, files)
	assert.Equal(t, "What differs: may.toml (added) and study.toml (removed).", last)
	files, last = said(before.Inputs[1:], before.Inputs)
	assert.Empty(t, files)
	assert.Equal(t, "Nothing has changed: the same tables, the same model, the same numbers. The earlier result does not name its study file.", last)
}

func TestRead(t *testing.T) {
	before, _ := fits()
	before.Kind, before.Version = "unseen/fit", 1
	path := filepath.Join(t.TempDir(), "fit.json")
	write := func(f any) {
		b, err := json.Marshal(f)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(path, b, 0o644))
	}
	write(before)
	f, from, err := Read(path)
	require.NoError(t, err)
	assert.Equal(t, "fit.json", from.File)
	assert.Len(t, from.SHA256, 64)
	assert.Equal(t, before.Passed, f.Passed)
	assert.True(t, math.IsNaN(float64(f.Detection[0].Estimate.Estimate)), "null is what does not exist, not 0")

	before.Version = 2
	write(before)
	_, _, err = Read(path)
	assert.ErrorContains(t, err, "reads version 1")
	before.Kind = "unseen/plan"
	write(before)
	_, _, err = Read(path)
	assert.ErrorContains(t, err, `is of kind "unseen/plan"`)
	require.NoError(t, os.WriteFile(path, []byte("{"), 0o644))
	_, _, err = Read(path)
	assert.ErrorContains(t, err, "is no JSON")
	require.NoError(t, os.WriteFile(path, []byte(`{"kind":"unseen/fit","version":1}`), 0o644))
	_, _, err = Read(path)
	assert.ErrorContains(t, err, "holds no passed %; an earlier result is")
	_, _, err = Read(path + "x")
	assert.ErrorIs(t, err, os.ErrNotExist)
}
