package cjs_test

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/assess"
	"example.org/unseen/cjs/compare"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/opinion"
	"example.org/unseen/cjs/plan"
	"example.org/unseen/cjs/replicate"
	"example.org/unseen/cjs/season"
	"example.org/unseen/cjs/simulate"
	"example.org/unseen/cjs/travel"
	"example.org/unseen/cjs/whatif"
	"example.org/unseen/history"
	"example.org/unseen/history/growth"
)

// spoiler puts garbage into values.
type spoiler struct{ *rand.Rand }

var (
	badNumbers = []float64{math.NaN(), math.Inf(1), math.Inf(-1), -1, 0, 0.5, 1, 95, 1e308, -1e-300}
	badInts    = []int64{-1, 0, 1, 2, 3, 5, 63, 64, 65, 200, -128}
	badWords   = []string{"", "x", "profle", "reach", "by", "+", "same", "row by cohort", "length", "sex", "drop", "per km", "per day", "linear", "cohort", "release_day"}
)

// spoil changes one thing, somewhere below v, at random. Times and functions
// stay.
func (s spoiler) spoil(v reflect.Value) {
	switch v.Kind() {
	case reflect.Float64:
		v.SetFloat(badNumbers[s.IntN(len(badNumbers))])
	case reflect.Int, reflect.Int32, reflect.Int64:
		v.SetInt(badInts[s.IntN(len(badInts))])
	case reflect.Uint8, reflect.Uint64:
		v.SetUint(s.Uint64() >> s.IntN(64) & (1<<min(63, v.Type().Bits()) - 1))
	case reflect.Bool:
		v.SetBool(!v.Bool())
	case reflect.String:
		v.SetString(badWords[s.IntN(len(badWords))])
	case reflect.Pointer:
		if v.IsNil() || s.IntN(40) == 0 {
			v.SetZero()
			return
		}
		s.spoil(v.Elem())
	case reflect.Map:
		if v.IsNil() || s.IntN(2) == 0 {
			v.SetZero()
			return
		}
		key, value := reflect.New(v.Type().Key()).Elem(), reflect.New(v.Type().Elem()).Elem()
		s.spoil(key)
		s.spoil(value)
		v.SetMapIndex(key, value)
	case reflect.Slice:
		s.spoilSlice(v)
	case reflect.Struct:
		if v.Type() == reflect.TypeFor[time.Time]() || v.NumField() == 0 {
			return
		}
		if f := v.Field(s.IntN(v.NumField())); f.CanSet() {
			s.spoil(f)
		}
	}
}

// spoilSlice takes one away, adds one, empties, or goes on into one.
func (s spoiler) spoilSlice(v reflect.Value) {
	n := v.Len()
	switch way := s.IntN(8); {
	case n == 0 || way == 0:
		v.Set(reflect.Append(v, reflect.Zero(v.Type().Elem())))
	case way == 1:
		v.Set(v.Slice(0, n-1))
	case way == 2:
		v.SetZero()
	default:
		s.spoil(v.Index(s.IntN(n)))
	}
}

// some spoils v, a pointer, up to twice, and now and then not at all.
func (s spoiler) some(v any) {
	for range s.IntN(3) {
		s.spoil(reflect.ValueOf(v).Elem())
	}
}

// smallStudy is a small sound study with everything that one can have.
func smallStudy(t *testing.T, rnd *rand.Rand) model.Input {
	t.Helper()
	let := time.Date(2025, 4, 1, 6, 0, 0, 0, time.UTC)
	river := history.River{Sites: []history.Site{{Name: "Mill Lade", Km: 58, Days: math.NaN()}, {Name: "Alder Ford", Km: 36, Days: 2, Attributes: map[string]float64{"gate": 1}},
		{Name: "Scar Weir", Km: 14, Days: 3, Rows: []string{"upper", "lower"}, Attributes: map[string]float64{"gate": 0}}, {Name: "Tidehead", Km: 0, Days: 1, Attributes: map[string]float64{"gate": 0}}}}
	var records []history.Record
	for i := range 60 {
		r := history.Record{Tag: fmt.Sprint("t", i), Cohort: []string{"early", "late"}[i%2], Released: let.Add(time.Duration(i) * time.Hour),
			Levels: map[string]string{"sex": []string{"male", "female"}[i/2%2]}, Values: map[string]float64{"length": 110 + 20*rnd.Float64()}}
		for k, row := range []string{"Alder Ford", "Scar Weir/upper", "Scar Weir/lower", "Tidehead"} {
			if rnd.Float64() < 0.55 {
				at := r.Released.Add(time.Duration((float64(k)+1+rnd.Float64())*30) * time.Hour)
				r.Seen = append(r.Seen, history.Sighting{Row: row, First: at, Last: at.Add(time.Minute)})
			}
		}
		records = append(records, r)
	}
	h, err := history.NewHistories(river, records)
	require.NoError(t, err)
	return model.Input{Histories: h, Holds: []model.Hold{{Reach: -1, Row: 0, Value: 0.5, Where: map[string]string{"cohort": "late"}}},
		TestPasses: []model.TestPasses{{Row: 3, Passes: 20, Read: 12}},
		Conditions: []history.CohortCondition{{Name: "flow", Mean: [][]float64{{0, 1, 2, 3}, {0, 2, 4, 5}}, Between: 1}}}
}

// fewReplicates keeps what is asked for small, not sound.
func fewReplicates(n int) int { return min(n, 3) }

// TestGarbageNeverPanics spoils sound input at random and calls what the
// library exports: whatever comes, it answers or says what is wrong. Many of
// the spoiled must be refused and many be answered, or nothing was tried.
func TestGarbageNeverPanics(t *testing.T) {
	rounds := 150
	if testing.Short() {
		rounds = 15
	}
	refused, answered := 0, 0
	// 3902 once met two sites at one place, for a law of travel over no way.
	for i := range uint64(rounds) {
		seed := i
		if i == 0 {
			seed = 3902
		}
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			s := spoiler{rand.New(rand.NewPCG(seed, 0))}
			for _, err := range garbage(t, s) {
				if err != nil {
					assert.NotEmpty(t, err.Error())
					refused++
				} else {
					answered++
				}
			}
		})
	}
	assert.Greater(t, refused, rounds)
	assert.Greater(t, answered, rounds)
}

// garbage calls everything with input spoiled by s and gives what it said.
func garbage(t *testing.T, s spoiler) (said []error) {
	// No time limit is part of the outcome: one round takes milliseconds, and
	// what an overlong one gives is an error like others.
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	tell := func(err error) { said = append(said, err) }
	in := smallStudy(t, s.Rand)
	spec := model.Spec{Survival: "reach + length", Detection: "site + cohort"}
	opt := cjs.Options{Interval: "logit"}
	if s.IntN(3) == 0 {
		in.AsOf = time.Date(2025, 4, 6, 0, 0, 0, 0, time.UTC)
		in.Histories = in.Histories.Until(in.AsOf.UnixMilli())
	}
	s.some(&in)
	s.some(&spec)
	s.some(&opt)

	_, err := compare.Run(ctx, in, []model.Spec{spec, {Survival: "same", Detection: "same"}}, opt, nil)
	tell(err)
	checked := assess.Options{Categories: []string{"sex"}}
	s.some(&checked)
	_, err = assess.Check(in.Histories, checked)
	tell(err)
	way := travel.Options{}
	s.some(&way)
	_, err = travel.New(ctx, in.Histories, way)
	tell(err)
	days := []time.Time{time.Date(2025, 4, 4, 0, 0, 0, 0, time.UTC)}
	_, err = season.Replay(ctx, in, spec, days, opt, nil)
	tell(err)
	_, err = growth.New(in.Histories, nil, growth.Options{TagWeightG: badNumbers[s.IntN(len(badNumbers))]})
	tell(err)
	_, err = whatif.WithoutCohort(in, int(badInts[s.IntN(len(badInts))]))
	tell(err)
	_, _, err = whatif.WithoutSite(in, int(badInts[s.IntN(len(badInts))]))
	tell(err)

	p, err := model.Build(in, spec)
	tell(err)
	if err != nil {
		return said
	}
	if s.IntN(4) == 0 {
		// The design and the data that are to be fitted, spoiled after they
		// were made.
		design, data := *p.Design, *p.Data
		p.Design, p.Data = &design, &data
		s.some(p.Design)
		s.some(p.Data)
	}
	f, err := cjs.New(ctx, p, opt)
	tell(err)
	if err != nil {
		return said
	}
	return append(said, garbageOfFit(ctx, t, s, f)...)
}

// garbageOfFit calls what takes a fit.
func garbageOfFit(ctx context.Context, t *testing.T, s spoiler, f *cjs.Fit) (said []error) {
	tell := func(err error) {
		said = append(said, err)
		var odd *json.UnsupportedValueError
		assert.NotErrorAs(t, err, &odd)
	}
	if s.IntN(6) == 0 {
		f = &cjs.Fit{Problem: f.Problem} // as one read back from JSON
	}
	number := func() int { return int(badInts[s.IntN(len(badInts))]) }
	_, err := json.Marshal(f)
	tell(err)
	_, err = f.Effects(ctx)
	tell(err)
	_, err = f.RelativePassed("early", "x", number())
	tell(err)
	other := opinion.Options{Starts: fewReplicates(number())}
	_, err = opinion.Run(ctx, f, other)
	tell(err)
	_, err = whatif.Run(ctx, f, nil, whatif.Options{Most: number()})
	tell(err)
	again := replicate.Options{Method: badWords[s.IntN(len(badWords))], Have: &replicate.Set{}}
	s.some(&again)
	set, err := replicate.Run(ctx, f, number(), fewReplicates(number()), again)
	tell(err)
	if err == nil {
		_, err = set.Summarise(badNumbers[s.IntN(len(badNumbers))])
		tell(err)
	}
	_, err = replicate.Merge(set, &replicate.Set{Replicates: []replicate.Replicate{{Index: 1}}})
	tell(err)
	x := make([]float64, s.IntN(9))
	_, err = cjs.Expect(ctx, f.Problem, x, nil, nil, cjs.Options{})
	tell(err)
	pl, err := plan.FromFit(f)
	tell(err)
	if err != nil {
		return said
	}
	s.some(pl)
	fc, err := plan.New(ctx, pl)
	tell(err)
	target := plan.Target{Kind: plan.Passed, Reach: -1, Site: 3, Row: -1, HalfWidth: 0.05}
	option := plan.Option{What: "row", Site: "Tidehead", Detection: 0.5, Km: math.NaN(), Survival: math.NaN(), Cost: math.NaN(), Fish: 10, Cohorts: 2, Passes: 20}
	s.some(&target)
	s.some(&option)
	_, err = fc.Need(ctx, target)
	tell(err)
	_, err = fc.Compare(ctx, target, []plan.Option{option})
	tell(err)
	_, err = fc.Curves(ctx, target, []plan.Option{option}, badNumbers[:s.IntN(len(badNumbers))])
	tell(err)
	_, err = fc.Power(ctx, plan.Contrast{First: "early", Second: "late", Target: target, Alpha: badNumbers[s.IntN(len(badNumbers))]})
	tell(err)
	if !f.Problem.Running() && f.Check() == nil {
		study := simulate.Study{Truth: *simulate.TruthOf(f), Spec: f.Problem.Spec, Options: cjs.Options{EstimatesOnly: true}}
		s.some(&study.Truth)
		s.some(&study.Options)
		r, err := study.Run(ctx, number(), fewReplicates(number()), nil)
		tell(err)
		if err == nil {
			_, err = json.Marshal(r)
			tell(err)
		}
	}
	return said
}
