package cjs_test

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// withNumber adds to the dipper data a number that is 0 for females and 1 for
// males: as a covariate it must do what the category does.
func withNumber(t testing.TB) model.Input {
	in := dipper(t, "dipper.toml")
	sex := in.Histories.Column("sex")
	v := make([]float64, len(sex.Level))
	for i, l := range sex.Level {
		v[i] = float64(l)
	}
	in.Histories.Columns = append(in.Histories.Columns, history.Column{Name: "male", Value: v})
	return in
}

func TestNumberThatIsACategory(t *testing.T) {
	in := withNumber(t)
	for _, pair := range [][2]model.Spec{
		{{Survival: "sex", Detection: "same"}, {Survival: "male", Detection: "same"}},
		{{Survival: "reach + sex", Detection: "same"}, {Survival: "reach + male", Detection: "same"}},
		{{Survival: "reach by sex", Detection: "same"}, {Survival: "reach by male", Detection: "same"}},
		{{Survival: "same", Detection: "site + sex"}, {Survival: "same", Detection: "site + male"}},
		{{Survival: "sex", Detection: "sex"}, {Survival: "male", Detection: "male"}},
		{{Survival: "flood by sex", Detection: "same"}, {Survival: "flood by male", Detection: "same"}},
	} {
		a, b := mustFit(t, in, pair[0], cjs.Options{}), mustFit(t, in, pair[1], cjs.Options{})
		// 1e-8: two searches for the same maximum.
		assert.InDelta(t, a.MinusTwoLogLikelihood, b.MinusTwoLogLikelihood, 1e-8, pair[1].Survival)
		assert.Equal(t, a.Estimable, b.Estimable)
		assert.Equal(t, a.Parameters, b.Parameters)
		require.Equal(t, a.Passed[0].Of, b.Passed[0].Of)
		for i := range a.Passed[:6] {
			assert.InDelta(t, a.Passed[i].PassedShare.Value, b.Passed[i].PassedShare.Value, 1e-7)
			assert.InDelta(t, a.Passed[i].PassedShare.SE, b.Passed[i].PassedShare.SE, 1e-6)
			assert.InDelta(t, a.Passed[i].PassedFish.Value, b.Passed[i].PassedFish.Value, 1e-5)
			assert.InDelta(t, a.Passed[i].PassedFish.SE, b.Passed[i].PassedFish.SE, 1e-4)
		}
	}
}

// TestCurveOfANumber: at 0 and 1 the curve is the category's estimates.
func TestCurveOfANumber(t *testing.T) {
	in := withNumber(t)
	a := mustFit(t, in, model.Spec{Survival: "sex", Detection: "same"}, cjs.Options{})
	b := mustFit(t, in, model.Spec{Survival: "male", Detection: "same"}, cjs.Options{})
	e, err := b.Effects(context.Background())
	require.NoError(t, err)
	require.Len(t, e.Curves, 6)
	first, last := e.Curves[0].Points[0], e.Curves[0].Points[20]
	assert.Equal(t, 0.0, first.Value)
	assert.Equal(t, 1.0, last.Value)
	female, male := a.Survival[0], a.Survival[6]
	require.Equal(t, "male", male.Of[0].Level)
	for _, c := range []struct {
		got  cjs.CurvePoint
		want cjs.Survival
	}{{first, female}, {last, male}} {
		assert.InDelta(t, c.want.Value, c.got.Estimate.Value, 1e-8)
		assert.InDelta(t, c.want.SE, c.got.SE, 1e-7)
		assert.InDelta(t, c.want.Low, c.got.Low, 1e-7)
	}
	// The odds ratio for one unit is that of the two estimates; a standard
	// deviation is less than a unit.
	odds := func(p float64) float64 { return p / (1 - p) }
	require.Len(t, e.Ratios, 1)
	assert.Equal(t, "odds ratio", e.Ratios[0].Kind)
	assert.InDelta(t, odds(male.Value)/odds(female.Value), e.Ratios[0].PerUnit.Value, 1e-7)
	sd := b.Problem.Numbers[0].SD
	assert.InDelta(t, math.Pow(e.Ratios[0].PerUnit.Value, sd), e.Ratios[0].PerSD.Value, 1e-7)
	assert.InDelta(t, e.Ratios[0].PerSD.SE/e.Ratios[0].PerSD.Value, sd*e.Ratios[0].PerUnit.SE/e.Ratios[0].PerUnit.Value, 1e-7)
}

// TestGroupsApartSumToTogether: nothing shared, nothing gained.
func TestGroupsApartSumToTogether(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	in := dipper(t, "dipper.toml")
	whole := mustFit(t, in, model.Spec{Survival: "reach by sex", Detection: "site by sex"}, cjs.Options{})
	h := in.Histories
	sex := h.Column("sex")
	var sum float64
	for level := range sex.Levels {
		part := *h
		part.Entry, part.Seen, part.End, part.Cohort, part.Columns, part.Tag = nil, nil, nil, nil, nil, nil
		for i := range h.Len() {
			if sex.Level[i] == int32(level) {
				part.Entry, part.Seen = append(part.Entry, h.Entry[i]), append(part.Seen, h.Seen[i])
				part.End, part.Cohort = append(part.End, h.End[i]), append(part.Cohort, 0)
			}
		}
		sum += mustFit(t, model.Input{Histories: &part}, model.Spec{Survival: "reach", Detection: "site"}, cjs.Options{}).MinusTwoLogLikelihood
	}
	assert.InDelta(t, whole.MinusTwoLogLikelihood, sum, 1e-8)
}

// TestOrderAndCounts: the order of records is irrelevant, and a count of 2 is
// the record twice.
func TestOrderAndCounts(t *testing.T) {
	in := dipper(t, "dipper.toml")
	h := in.Histories
	spec := model.Spec{Survival: "reach + sex", Detection: "same"}
	a := mustFit(t, in, spec, cjs.Options{})
	rnd := rand.New(rand.NewPCG(1, 2))
	mixed := *h
	order := rnd.Perm(h.Len())
	sex := h.Column("sex")
	pick := func(twice bool) *history.Histories {
		m := mixed
		m.Tag, m.Entry, m.Seen, m.End, m.Cohort = nil, nil, nil, nil, nil
		c := history.Column{Name: "sex", Levels: sex.Levels}
		for _, i := range order {
			n := 1
			if twice {
				n = 2
			}
			for range n {
				m.Entry, m.Seen = append(m.Entry, h.Entry[i]), append(m.Seen, h.Seen[i])
				m.End, m.Cohort = append(m.End, h.End[i]), append(m.Cohort, h.Cohort[i])
				c.Level = append(c.Level, sex.Level[i])
			}
		}
		m.Columns = []history.Column{c}
		return &m
	}
	b := mustFit(t, model.Input{Histories: pick(false)}, spec, cjs.Options{})
	assert.Equal(t, a.MinusTwoLogLikelihood, b.MinusTwoLogLikelihood)
	assert.Equal(t, a.X, b.X)
	double := mustFit(t, model.Input{Histories: pick(true)}, spec, cjs.Options{})
	counted := pick(false)
	counted.Count = make([]int32, counted.Len())
	for i := range counted.Count {
		counted.Count[i] = 2
	}
	c := mustFit(t, model.Input{Histories: counted}, spec, cjs.Options{})
	assert.Equal(t, double.MinusTwoLogLikelihood, c.MinusTwoLogLikelihood)
	assert.InDelta(t, 2*a.MinusTwoLogLikelihood, c.MinusTwoLogLikelihood, 1e-8)
	assert.InDelta(t, a.Survival[0].SE/math.Sqrt2, c.Survival[0].SE, 1e-8)
}

// river4 is four sites 10, 20 and 40 km apart.
func river4() history.River {
	nan := math.NaN()
	return history.River{Sites: []history.Site{{Name: "A", Km: 70, Days: nan}, {Name: "B", Km: 60, Days: 1}, {Name: "C", Km: 40, Days: 2}, {Name: "D", Km: 0, Days: 4}}}
}

// TestRatePerKm: with one rate for all reaches survival is exp(−rate·km), and
// the counts' likelihood is that of the same probabilities held.
func TestRatePerKm(t *testing.T) {
	h := counted(4, map[string]int{"1111": 120, "1110": 60, "1101": 80, "1100": 140, "1011": 60, "1010": 30, "1001": 40, "1000": 470})
	h.River = river4()
	for _, link := range []string{"per km", "per day"} {
		f := mustFit(t, model.Input{Histories: h}, model.Spec{Survival: "same", Detection: "site", SurvivalLink: link}, cjs.Options{})
		s := f.Survival
		// Reaches of 10, 20 and 40 km, or 1, 2 and 4 days.
		assert.InDelta(t, s[0].Value*s[0].Value, s[1].Value, 1e-12)
		assert.InDelta(t, math.Pow(s[0].Value, 4), s[2].Value, 1e-12)
		var holds []model.Hold
		for k := range s {
			holds = append(holds, model.Hold{Reach: k, Row: -1, Value: s[k].Value})
		}
		g := mustFit(t, model.Input{Histories: h, Holds: holds}, model.Spec{Survival: "same", Detection: "site"}, cjs.Options{})
		assert.InDelta(t, f.MinusTwoLogLikelihood, g.MinusTwoLogLikelihood, 1e-9)
		assert.Equal(t, cjs.Held, g.Survival[0].Status)
		// One rate, three detections; the last detection is had through the rate.
		assert.Equal(t, 4, f.Estimable)
		assert.Equal(t, cjs.Borrowed, f.Survival[2].Status)
		e, err := f.Effects(context.Background())
		require.NoError(t, err)
		require.Len(t, e.Paces, 3)
		assert.InDelta(t, e.Paces[0].Value, e.Paces[2].Value, 1e-12)
		assert.InDelta(t, e.Paces[0].SE, e.Paces[2].SE, 1e-12)
		assert.InDelta(t, s[0].Value, e.Paces[0].Value, 1e-12)
	}
	h.River.Sites[2].Km = math.NaN()
	_, err := model.Build(model.Input{Histories: h}, model.Spec{Survival: "same", SurvivalLink: "per km"})
	assert.ErrorContains(t, err, "the reach B to C has no length")
}

// TestRelativeSurvival: a treated and a control cohort past one site whose
// detection is taken as 1 (testdata/published/closed_form: paired).
func TestRelativeSurvival(t *testing.T) {
	var c struct {
		Inputs struct {
			Paired struct {
				TreatR int `json:"treat_R"`
				TreatN int `json:"treat_n"`
				CtrlR  int `json:"ctrl_R"`
				CtrlN  int `json:"ctrl_n"`
			}
		}
		Values struct {
			Paired struct {
				Relative float64 `json:"relative_survival"`
				SE       float64
			}
		}
	}
	readJSON(t, "../testdata/published/closed_form/closed_form.json", &c)
	in := c.Inputs.Paired
	h := &history.Histories{River: history.River{Sites: []history.Site{{Name: "A"}, {Name: "B"}}},
		Entry: make([]uint8, 4), Seen: []uint64{0, 1, 0, 1}, End: make([]history.End, 4),
		Cohort: []int32{0, 0, 1, 1}, Cohorts: []string{"control", "treated"},
		Count: []int32{int32(in.CtrlR - in.CtrlN), int32(in.CtrlN), int32(in.TreatR - in.TreatN), int32(in.TreatN)}}
	f := mustFit(t, model.Input{Histories: h, Holds: []model.Hold{{Reach: -1, Row: 0, Value: 1}}}, model.Spec{Survival: "reach by cohort"}, cjs.Options{})
	r, err := f.RelativePassed("treated", "control", 1)
	require.NoError(t, err)
	assert.InDelta(t, c.Values.Paired.Relative, r.Value, 1e-9)
	assert.InDelta(t, c.Values.Paired.SE, r.SE, 1e-9)
	// exp(log r ± 1.96·SE/r)
	assert.InDelta(t, r.Value*math.Exp(-1.959963984540054*r.SE/r.Value), r.Low, 1e-9)
	assert.InDelta(t, r.Value*math.Exp(1.959963984540054*r.SE/r.Value), r.High, 1e-9)
}

// TestTestPasses: 41 of 60 passes read make the last site's own detection
// 41/60 where nothing else speaks of it, and survival follows.
func TestTestPasses(t *testing.T) {
	h := counted(2, map[string]int{"11": 300, "10": 700})
	f := mustFit(t, model.Input{Histories: h, TestPasses: []model.TestPasses{{Row: 0, Passes: 60, Read: 41}}}, model.Spec{}, cjs.Options{})
	p := 41.0 / 60
	assert.InDelta(t, p, f.Detection[0].Value, 1e-9)
	assert.InDelta(t, math.Sqrt(p*(1-p)/60), f.Detection[0].SE, 1e-9)
	assert.InDelta(t, 0.3/p, f.Passed[0].PassedShare.Value, 1e-9)
	// Delta method by hand: seen share and detection are independent.
	se := 0.3 / p * math.Sqrt(0.7/0.3/1000+(1-p)/p/60)
	assert.InDelta(t, se, f.Passed[0].PassedShare.SE, 1e-9)
	assert.Equal(t, cjs.Estimated, f.Passed[0].PassedShare.Status)
	assert.Nil(t, f.OneSite)
}

func TestOneSiteAlone(t *testing.T) {
	h := counted(2, map[string]int{"11": 300, "10": 700})
	f := mustFit(t, model.Input{Histories: h}, model.Spec{}, cjs.Options{})
	assert.Equal(t, cjs.Inseparable, f.Passed[0].PassedShare.Status)
	assert.True(t, math.IsNaN(f.Passed[0].PassedShare.Value))
	require.Len(t, f.Products, 1)
	assert.InDelta(t, 0.3, f.Products[0].Value, 1e-9)
	require.NotNil(t, f.OneSite)
	o := f.OneSite.If
	assert.InDelta(t, 0.3, o[0].Detection, 1e-12)
	assert.InDelta(t, 1, o[0].Passed, 1e-12)
	assert.InDelta(t, 0.3, o[len(o)-1].Passed, 1e-12)
	assert.Equal(t, 1.0, o[len(o)-1].Detection)
	assert.Equal(t, 1, f.Estimable)
}

// TestRemoved: fish taken out at a site have not died: survival below is that
// of the others, detection counts them.
func TestRemoved(t *testing.T) {
	h := counted(3, map[string]int{"111": 240, "110": 160, "101": 120, "100": 480})
	f := mustFit(t, model.Input{Histories: h}, model.Spec{}, cjs.Options{})
	// 100 more fish, 40 of them seen at B, all of these taken out there.
	more := *h
	more.Entry = append(append([]uint8{}, h.Entry...), 0)
	more.Seen = append(append([]uint64{}, h.Seen...), 1)
	more.End = append(append([]history.End{}, h.End...), history.Removed)
	more.Count = append(append([]int32{}, h.Count...), 40)
	more.Cohort = append(append([]int32{}, h.Cohort...), 0)
	for i := range more.Seen {
		if more.Seen[i] == 0 {
			more.Count[i] += 60
		}
	}
	g := mustFit(t, model.Input{Histories: &more}, model.Spec{}, cjs.Options{})
	// What was released at B and seen below is as before: so is the product,
	// and p = m/M with M = m + R z/r.
	assert.InDelta(t, f.Products[0].Value, g.Products[0].Value, 1e-9)
	m, z, r, R := 440.0, 120.0, 240.0, 400.0
	assert.InDelta(t, m/(m+R*z/r), g.Detection[0].Value, 1e-9)
	assert.InDelta(t, (m+R*z/r)/1100, g.Survival[0].Value, 1e-9)
	last := g.Passed[1]
	assert.Equal(t, 1100, last.Released)
	assert.Equal(t, 40, last.Removed)
	assert.Equal(t, 1100+400, g.EffectiveSample, "releases and re-releases above the last site, removed fish excluded")
}

func TestRetention(t *testing.T) {
	h := counted(4, map[string]int{"1111": 120, "1110": 60, "1101": 80, "1100": 140, "1011": 60, "1010": 30, "1001": 40, "1000": 470})
	opt := cjs.Options{}
	opt.Retention.Held, opt.Retention.Kept = 500, 492
	f := mustFit(t, model.Input{Histories: h}, model.Spec{}, opt)
	p := f.Passed[1]
	kept := 0.984
	assert.InDelta(t, p.PassedShare.Value/kept, p.WithRetention.Value, 1e-12)
	relative := math.Sqrt(math.Pow(p.PassedShare.SE/p.PassedShare.Value, 2) + (1-kept)/(kept*500))
	assert.InDelta(t, p.WithRetention.Value*relative, p.WithRetention.SE, 1e-12)
}

// TestRawAboveOne: published tables print survival above 1; the bounded fit
// says 1, with the interval by profile, and shows the raw value beside it.
func TestRawAboveOne(t *testing.T) {
	// M_B = 50 + 50·60/20 = 200 of 150 released: 1.333.
	h := counted(3, map[string]int{"111": 20, "110": 30, "101": 60, "100": 40})
	f := mustFit(t, model.Input{Histories: h}, model.Spec{}, cjs.Options{})
	s := f.Survival[0]
	assert.InDelta(t, 200.0/150, s.Raw, 1e-12)
	assert.Equal(t, 1.0, s.Value)
	assert.Equal(t, cjs.Boundary, s.Status)
	assert.Equal(t, "profile", s.Method)
	assert.True(t, s.Low > 0.5 && s.Low < 1, "%v", s.Low)
	assert.Equal(t, 1.0, s.High)
	// Counted as estimated: three cells' worth of parameters.
	assert.Equal(t, 3, f.Estimable)
	assert.Equal(t, 3, f.EstimableHere)
	// With the linear link the value of the table comes out.
	g := mustFit(t, model.Input{Histories: h}, model.Spec{SurvivalLink: "linear", DetectionLink: "linear"}, cjs.Options{})
	assert.InDelta(t, 200.0/150, g.Survival[0].Value, 1e-8)
}

// TestConfounded: what is confounded is named.
func TestConfounded(t *testing.T) {
	in := dipper(t, "dipper.toml")
	f := mustFit(t, in, model.Spec{Survival: "reach + flood", Detection: "same"}, cjs.Options{})
	assert.Equal(t, 8, f.Parameters)
	assert.Equal(t, 7, f.Estimable)
	var found bool
	for _, w := range f.Warnings {
		if w.ID == cjs.WarnInseparable {
			found = true
			assert.Contains(t, w.Message, "flood")
		}
	}
	assert.True(t, found)
	// The estimates themselves are those of reach alone.
	assert.InDelta(t, 659.730085268, f.MinusTwoLogLikelihood, 1e-6)
	assert.Equal(t, cjs.Estimated, f.Survival[0].Status)
}

func TestMissingValues(t *testing.T) {
	in := withNumber(t)
	in.Histories.Column("male").Value[3] = math.NaN()
	spec := model.Spec{Survival: "male", Detection: "same"}
	_, err := model.Build(in, spec)
	require.ErrorContains(t, err, "1 of 294 fish have no male")
	in.Missing = "drop"
	p, err := model.Build(in, spec)
	require.NoError(t, err)
	assert.Equal(t, 1, p.Dropped)
	// A variant that does not use the column leaves the same fish out.
	in.Also = []string{"male"}
	q, err := model.Build(in, model.Spec{Survival: "same", Detection: "same"})
	require.NoError(t, err)
	assert.Equal(t, 1, q.Dropped)
	in.Missing = "mean"
	p, err = model.Build(in, spec)
	require.NoError(t, err)
	assert.Equal(t, 0, p.Dropped)
	assert.Equal(t, 1, p.Filled)
}

// TestPassedFishByHand: with survival and detection known, only the chance of
// each fish is left: of 700 never seen, each passed with S(1−p)/(1−Sp) = 2/7.
func TestPassedFishByHand(t *testing.T) {
	h := counted(2, map[string]int{"11": 300, "10": 700})
	holds := []model.Hold{{Reach: 0, Row: -1, Value: 0.5}, {Reach: -1, Row: 0, Value: 0.6}}
	f := mustFit(t, model.Input{Histories: h, Holds: holds}, model.Spec{}, cjs.Options{})
	e := f.Passed[0].PassedFish
	assert.InDelta(t, 300+700*2.0/7, e.Value, 1e-9)
	assert.InDelta(t, math.Sqrt(700*2.0/7*5/7), e.SE, 1e-9)
}
