package cjs_test

import (
	"bytes"
	"encoding/json"
	"math/rand/v2"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/assess"
	"example.org/unseen/cjs/compare"
	"example.org/unseen/cjs/internal/plain"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/opinion"
	"example.org/unseen/cjs/plan"
	"example.org/unseen/cjs/replicate"
	"example.org/unseen/cjs/season"
	"example.org/unseen/cjs/simulate"
	"example.org/unseen/cjs/travel"
	"example.org/unseen/cjs/whatif"
	"example.org/unseen/history/ready"
	"example.org/unseen/history/study"
)

// published are the studies of testdata that hold histories or counts.
func published(t *testing.T) map[string]model.Input {
	t.Helper()
	files, err := filepath.Glob("../testdata/published/*/*.toml")
	require.NoError(t, err)
	out := map[string]model.Input{}
	for _, file := range files {
		st, err := study.Load(file)
		require.NoError(t, err)
		if st.NextSeen == nil && st.Histories == nil {
			continue
		}
		h, _, err := ready.Read(st)
		require.NoError(t, err, file)
		in, err := model.FromStudy(st, h, nil, nil)
		require.NoError(t, err, file)
		out[file] = in
	}
	require.Greater(t, len(out), 2)
	return out
}

// thinStudies are studies of a few fish, in which most cannot be had.
func thinStudies() map[string]model.Input {
	return map[string]model.Input{
		"nobody seen":   {Histories: counted(3, map[string]int{"100": 5})},
		"all seen":      {Histories: counted(3, map[string]int{"111": 5})},
		"one site":      {Histories: counted(2, map[string]int{"11": 3, "10": 4})},
		"one fish":      {Histories: counted(4, map[string]int{"1010": 1})},
		"early, late":   {Histories: cohorts(3, []string{"early", "late"}, []map[string]int{{"111": 1, "100": 2}, {"101": 1, "110": 1}})},
		"none but last": {Histories: counted(3, map[string]int{"101": 4, "100": 3})},
	}
}

// has checks that v is written and that every exported field of its type is
// there as a key, whatever its value.
func has(t *testing.T, name string, v any) map[string]any {
	t.Helper()
	b, err := json.Marshal(v)
	require.NoError(t, err, name)
	d := json.NewDecoder(bytes.NewReader(b))
	var m map[string]any
	require.NoError(t, d.Decode(&m), name)
	x := reflect.TypeOf(v)
	for x.Kind() == reflect.Pointer {
		x = x.Elem()
	}
	for _, f := range reflect.VisibleFields(x) {
		if key, _, _ := strings.Cut(f.Tag.Get("json"), ","); f.IsExported() && !f.Anonymous && f.Type.Kind() != reflect.Func {
			if key == "" {
				key = plain.Key(f.Name)
			}
			assert.Contains(t, m, key, name)
		}
	}
	return m
}

// TestResultsAreJSON: whatever a study, thin or not, whatever comes of it, is
// written, with every key there.
func TestResultsAreJSON(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	ctx := t.Context()
	studies := thinStudies()
	if !testing.Short() {
		for file, in := range published(t) {
			studies[file] = in
		}
	}
	nulls, compared, planned := 0, 0, 0
	for name, in := range studies {
		p, err := model.Build(in, model.Spec{})
		require.NoError(t, err, name)
		f, err := cjs.New(ctx, p, cjs.Options{Interval: "logit"})
		require.NoError(t, err, name)
		m := has(t, name, f)
		for _, s := range m["survival"].([]any) {
			for _, key := range []string{"of", "from", "at", "estimate", "se", "low", "high", "status", "method", "raw"} {
				assert.Contains(t, s, key, name)
			}
			if s.(map[string]any)["se"] == nil {
				nulls++
			}
		}
		for i := range f.Passed {
			has(t, name, f.Passed[i])
		}
		assert.Contains(t, m, "aicc")
		has(t, name, *f) // by value as well
		e, err := f.Effects(ctx)
		require.NoError(t, err, name)
		has(t, name, e)
		has(t, name, assess.OfModel(p))
		c, err := compare.Run(ctx, in, []model.Spec{{}, {Survival: "same", Detection: "same"}, {Survival: "nothing"}}, cjs.Options{Interval: "logit"}, nil)
		if err == nil { // else too thin for any to be ranked
			variants := has(t, name, c)["variants"].([]any)
			assert.Len(t, variants, 3)
			assert.Contains(t, variants[2].(map[string]any)["err"], "nothing", "an error is its text")
			compared++
		}
		w, err := whatif.Run(ctx, f, whatif.Changes(in)[:1], whatif.Options{})
		require.NoError(t, err, name)
		has(t, name, w)
		o, err := opinion.Run(ctx, f, opinion.Options{Starts: 2})
		require.NoError(t, err, name)
		has(t, name, o)
		if f.Verdict == cjs.Converged {
			s, err := replicate.Run(ctx, f, 1, 3, replicate.Options{})
			require.NoError(t, err, name)
			has(t, name, s)
			sum, err := s.Summarise(0)
			require.NoError(t, err, name)
			has(t, name, sum)
		}
		if pl, err := plan.FromFit(f); err == nil {
			has(t, name, pl)
			planned++
			fc, err := plan.New(ctx, pl)
			require.NoError(t, err, name)
			has(t, name, fc)
			target := fc.DefaultTarget()
			target.HalfWidth = 0.05
			need, err := fc.Need(ctx, target)
			require.NoError(t, err, name)
			has(t, name, need)
			options, err := fc.Compare(ctx, target, pl.StandardOptions())
			require.NoError(t, err, name)
			for i := range options {
				has(t, name, options[i])
			}
			ran := simulate.Study{Truth: *simulate.TruthOf(f), Spec: p.Spec, Options: cjs.Options{EstimatesOnly: true}}
			r, err := ran.Run(ctx, 1, 3, nil)
			require.NoError(t, err, name)
			_, err = json.Marshal(r)
			assert.NoError(t, err, name)
		}
	}
	assert.Greater(t, compared, 3)
	assert.Greater(t, planned, 3)
	assert.Greater(t, nulls, 5, "where nothing can be had there must be nulls")
}

// TestTimedResultsAreJSON: while a season runs, and of travel times.
func TestTimedResultsAreJSON(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	in := smallStudy(t, rand.New(rand.NewPCG(1, 0)))
	in.Holds, in.Conditions = nil, nil
	days := []time.Time{time.Date(2025, 4, 2, 0, 0, 0, 0, time.UTC), time.Date(2025, 4, 6, 0, 0, 0, 0, time.UTC), time.Date(2025, 6, 1, 0, 0, 0, 0, time.UTC)}
	list, err := season.Replay(t.Context(), in, model.Spec{Survival: "reach", Detection: "same"}, days, cjs.Options{Interval: "logit"}, nil)
	require.NoError(t, err)
	for i := range list {
		m := has(t, "season", list[i])
		if list[i].Err != nil {
			assert.Nil(t, m["running"])
			assert.NotEmpty(t, m["err"])
		}
	}
	r, err := travel.New(t.Context(), in.Histories, travel.Options{})
	require.NoError(t, err)
	m := has(t, "travel", r)
	assert.NotEmpty(t, m["stretches"])
	for i := range r.Arrivals {
		assert.Nil(t, has(t, "travel", r.Arrivals[i])["corrected"].([]any)[0], "not corrected without a fit: a time that is not known is null")
	}
}

// TestEmbeddedEstimatesKeepTheirFields: a struct that embeds another's
// MarshalJSON without one of its own would lose its own fields.
func TestEmbeddedEstimatesKeepTheirFields(t *testing.T) {
	for _, v := range []any{cjs.Survival{}, cjs.Detection{}, cjs.Product{}, cjs.CurvePoint{}, cjs.Pace{}, cjs.Relative{}, cjs.Watched{}, plan.Line{},
		cjs.Coefficient{}, cjs.RowTest{}, cjs.OneSite{}, cjs.Movement{}, cjs.Curve{}, cjs.Ratio{}, assess.Component{}, assess.ClassSum{}, assess.Covariate{},
		travel.Law{}, travel.Stretch{}, travel.Stay{}, plan.Verified{}, plan.Power{}, replicate.Estimate{}, compare.Averaged{}, compare.Test{}, whatif.Move{}, whatif.Influence{}} {
		has(t, reflect.TypeOf(v).String(), v)
	}
}
