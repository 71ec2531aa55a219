package analysis

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history/ingest"
	"example.org/unseen/history/study"
)

const studyFile = `
[histories]
file = "h.csv"
[[site]]
name = "Mill Lade"
[[site]]
name = "Alder Ford"
rows = ["upper", "lower"]
[[site]]
name = "Scar Weir"
[[test_passes]]
site = "Scar Weir"
passes = 60
read = 41
[[hold]]
reach = "Alder Ford to Scar Weir"
survival = 0.9
where = { sex = "f" }
[[hold]]
site = "Alder Ford"
row = "lower"
detection = 0.25
[[model]]
name = "one"
survival = "same"
[[model]]
name = "two"
detection = "site"
detection_link = "linear"
`

func open(t *testing.T) *Data {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "study.toml"), []byte(studyFile), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "h.csv"), []byte(
		"sex,Mill Lade,Alder Ford/upper,Alder Ford/lower,Scar Weir\nf,1,1,0,1\nm,1,0,1,0\n"), 0o644))
	d, err := Open(t.Context(), filepath.Join(dir, "study.toml"), ingest.Options{})
	require.NoError(t, err)
	return d
}

// refusal is the error as one of this package.
func refusal(t *testing.T, err error) *Error {
	t.Helper()
	var e *Error
	require.ErrorAs(t, err, &e)
	return e
}

func TestSpec(t *testing.T) {
	d := open(t)
	for _, c := range []struct {
		choice Choice
		want   model.Spec
		err    ID
	}{
		{Choice{}, model.Spec{Name: "one", Survival: "same"}, ""},
		{Choice{Name: "two"}, model.Spec{Name: "two", Detection: "site", DetectionLink: "linear"}, ""},
		{Choice{Survival: "reach", DetectionLink: "logit"}, model.Spec{Survival: "reach", DetectionLink: "logit"}, ""},
		{Choice{Name: "tow"}, model.Spec{}, NoSuchModel},
		{Choice{Name: "two", Survival: "same"}, model.Spec{}, NameAndTerms},
	} {
		got, err := d.Spec(c.choice)
		if c.err != "" {
			assert.Equal(t, c.err, refusal(t, err).ID)
			continue
		}
		require.NoError(t, err)
		assert.Equal(t, c.want, got)
	}
	_, err := d.Spec(Choice{Name: "tow"})
	assert.Equal(t, []string{`"one"`, `"two"`}, refusal(t, err).Known)
	d.Study.Models = nil
	_, err = d.Spec(Choice{Name: "one"})
	assert.Equal(t, NoModels, refusal(t, err).ID)
	got, err := d.Spec(Choice{})
	require.NoError(t, err)
	assert.Equal(t, model.Spec{}, got, "without a model the default is fitted")
}

func TestFilesAreFoundBesideTheStudy(t *testing.T) {
	d := open(t)
	files := d.Source().Files()
	for _, f := range files {
		assert.FileExists(t, f)
	}
	assert.Len(t, files, 2)
}

// What a reading is asked changes no study that was given.
func TestReadLeavesTheStudy(t *testing.T) {
	st, err := study.Load("../../cmd/unseen/internal/demo/files/study.toml")
	require.NoError(t, err)
	asOf := time.Date(2025, 4, 20, 23, 0, 0, 0, time.UTC)
	d, err := Read(t.Context(), st, ingest.Options{AsOf: asOf})
	require.NoError(t, err)
	assert.True(t, st.AsOf.IsZero())
	from := d.Source()
	assert.Equal(t, asOf, from.AsOf)
	assert.True(t, from.Running)
	assert.Equal(t, "20 April", from.UpTo(asOf, "2 January", "15:04"))
	assert.Equal(t, "23:00", from.UpTo(asOf.Add(-time.Hour), "2 January", "15:04"))
}

// Every refusal has words without a command or flag.
func TestErrorsHaveWords(t *testing.T) {
	cause := errors.New("the cause")
	for _, id := range []ID{NameAndTerms, NoModels, NoSuchModel, NoInflation, NoDay, NothingYet, NotConverged, OtherRiver, NotANumber, Unclear} {
		e := &Error{ID: id, Path: "study.toml", Name: "x", Known: []string{"y"}, Cause: cause}
		assert.NotEmpty(t, e.Error(), id)
		assert.NotContains(t, e.Error(), "--", id)
		assert.NotContains(t, e.Error(), "unseen ", id)
		assert.ErrorIs(t, e, cause)
	}
}

// A plan's questions are refused with what was asked, and its own numbers hold
// where nothing else is said.
func TestPlanning(t *testing.T) {
	p, err := OpenPlan("testdata/plan.toml")
	require.NoError(t, err)
	assert.Equal(t, []string{"testdata/plan.toml"}, p.Files())
	_, err = p.Ask(t.Context(), Questions{Want: []string{"passed at Nowhere ± 5"}})
	e := refusal(t, err)
	assert.Equal(t, Unclear, e.ID)
	assert.Equal(t, "passed at Nowhere ± 5", e.Name)
	_, err = p.Ask(t.Context(), Questions{Power: []string{"spring vs autumn"}})
	assert.Equal(t, Unclear, refusal(t, err).ID)
	assert.Equal(t, NotANumber, refusal(t, p.Complete(Options{EstimateInflation: true})).ID)
	require.NoError(t, p.Complete(Options{Options: cjs.Options{VarianceInflation: 4}}))
	assert.Zero(t, p.Plan.Level)
	require.NoError(t, p.Choose(Choice{Survival: "same"}))
	assert.Equal(t, "same", p.Plan.Spec.Survival)
	// Variance four times as large takes four times as many fish, but for the
	// rounding to whole ones.
	wide, err := p.Ask(t.Context(), Questions{Want: []string{"passed at Scar Weir ± 8"}})
	require.NoError(t, err)
	require.NoError(t, p.Complete(Options{Options: cjs.Options{VarianceInflation: 1}}))
	narrow, err := p.Ask(t.Context(), Questions{Want: []string{"passed at Scar Weir ± 8"}})
	require.NoError(t, err)
	assert.Greater(t, wide.Needs[0].Total, narrow.Needs[0].Total)
}

// The fit that curves are drawn of keeps its options and its intervals.
func TestEffectsLeaveTheFit(t *testing.T) {
	d := open(t)
	f, err := d.Fit(t.Context(), model.Spec{Survival: "same", Detection: "same"}, Options{Options: cjs.Options{Interval: "profile"}})
	require.NoError(t, err)
	assert.Equal(t, "profile", f.Fit.Options.Interval)
}
