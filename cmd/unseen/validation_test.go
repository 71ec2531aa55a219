package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/assess"
	"example.org/unseen/cjs/compare"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/replicate"
	"example.org/unseen/cjs/simulate"
	"example.org/unseen/history"
	"example.org/unseen/history/growth"
	"example.org/unseen/history/ready"
	"example.org/unseen/history/study"
	"example.org/unseen/history/tagcode"
	"example.org/unseen/likelihood/passtime"
)

// outside is one value held to an outside source: what the source has, what
// the toolkit has now, and the test that holds the one to the other.
type outside struct {
	what, source string
	theirs, ours string
	tolerance    string
	test         string // package and function
}

const published = "../../testdata/published/"

func fromJSON(t *testing.T, file string, into any) {
	t.Helper()
	b, err := os.ReadFile(file)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(b, into))
}

// within says of the largest difference whether it is below a tolerance.
func within(worst, tolerance float64) string {
	if worst > tolerance {
		return fmt.Sprintf("off by %.2g", worst)
	}
	return "all within " + strings.Replace(fmt.Sprintf("%.0e", tolerance), "e-0", "e-", 1)
}

func fixed(v float64, digits int) string { return fmt.Sprintf("%.*f", digits, v) }

// outsideChecks are the outside checks with our values as they are now.
func outsideChecks(t *testing.T) []outside {
	var out []outside
	out = append(out, dipperChecks(t)...)
	out = append(out, closedFormChecks(t)...)
	return append(out, smallChecks(t)...)
}

func fitOf(t *testing.T, in model.Input, spec model.Spec, opt cjs.Options) *cjs.Fit {
	t.Helper()
	p, err := model.Build(in, spec)
	require.NoError(t, err)
	f, err := cjs.New(context.Background(), p, opt)
	require.NoError(t, err)
	return f
}

// dipperChecks are those on the data of Lebreton et al. 1992.
func dipperChecks(t *testing.T) []outside {
	folder := published + "lebreton1992/"
	st, err := study.Load(folder + "dipper.toml")
	require.NoError(t, err)
	h, _, err := ready.Read(st)
	require.NoError(t, err)
	in := model.Input{Histories: h}
	var out []outside

	var models struct {
		Models []struct {
			Survival, Detection string
			Minus2LnL           float64 `json:"minus_two_log_likelihood"`
			AICc                float64
		}
	}
	fromJSON(t, folder+"models.json", &models)
	worst := 0.0
	for _, m := range models.Models {
		f := fitOf(t, in, model.Spec{Survival: m.Survival, Detection: m.Detection}, cjs.Options{})
		worst = max(worst, math.Abs(f.MinusTwoLogLikelihood-m.Minus2LnL), math.Abs(f.AICc-m.AICc))
	}
	out = append(out, outside{fmt.Sprintf("−2 ln L and AICc of %d models of 294 dippers (data of Lebreton et al. 1992)", len(models.Models)), "independent, SciPy 1.10.1: lebreton1992/models.py",
		"all within 1e-6", within(worst, 1e-6), "1e-6; estimates 1e-6, standard errors 1e-5", "cjs TestDipperModels"})

	var profiles map[string]any
	fromJSON(t, folder+"profile_intervals.json", &profiles)
	span := func(low, high float64) string { return fixed(low, 6) + " to " + fixed(high, 6) }
	profile := func(what, of, name string, e cjs.Estimate) {
		v := profiles[of].(map[string]any)[name].([]any)
		out = append(out, outside{what, "independent, SciPy 1.10.1: lebreton1992/models.py", span(v[0].(float64), v[1].(float64)), span(e.Low, e.High), "1e-6", "cjs TestDipperProfileIntervals"})
	}
	f := fitOf(t, in, model.Spec{Survival: "same", Detection: "same"}, cjs.Options{Interval: "profile"})
	profile("profile interval of one survival", "survival: same, detection: same", "phi", f.Survival[0].Estimate)
	profile("profile interval of one detection", "survival: same, detection: same", "p", f.Detection[0].Estimate)
	var checks struct {
		Both struct {
			ChiSquare float64 `json:"chi_square"`
			DF        int
			Inflation float64 `json:"variance_inflation"`
		} `json:"both_sexes_summed"`
	}
	fromJSON(t, folder+"fit_checks.json", &checks)
	r, err := assess.Check(h, assess.Options{Categories: []string{"sex"}})
	require.NoError(t, err)
	factor, _ := r.VarianceInflation()
	out = append(out, outside{"checks of fit by sex: chi-square, df, variance inflation", "independent, SciPy 1.10.1: lebreton1992/fit_checks.py",
		fmt.Sprintf("%.9f, %d, %.9f", checks.Both.ChiSquare, checks.Both.DF, checks.Both.Inflation),
		fmt.Sprintf("%.9f, %d, %.9f", r.Total.Statistic, r.Total.DF, factor), "1e-9, and every table", "cjs/assess TestDipperTables"})

	// The saturated log-likelihood is Σ m ln(m / released) of the published table.
	f = fitOf(t, in, model.Spec{Survival: "reach", Detection: "site"}, cjs.Options{})
	out = append(out, outside{"deviance of survival reach, detection site", "Σ m ln(m/R) over the next-seen table of Lebreton et al. 1992",
		fixed(2*pooledSaturated(t)-2*f.LogLikelihood, 6), fixed(2*simulate.FromFit(f).Observed().Saturated()-2*f.LogLikelihood, 6), "1e-9", "cjs/replicate TestSaturated"})
	return out
}

// pooledSaturated adds up m ln(m / released) over the published table.
func pooledSaturated(t *testing.T) float64 {
	st, err := study.Load(published + "lebreton1992/dipper_next_seen.toml")
	require.NoError(t, err)
	h, _, err := ready.Read(st)
	require.NoError(t, err)
	var sum float64
	for _, n := range h.NextSeen() {
		for _, m := range append([]int{n.Never()}, n.Next...) {
			if m > 0 {
				sum += float64(m) * math.Log(float64(m)/float64(n.Released))
			}
		}
	}
	return sum
}

// closedFormChecks are constructed counts with values by closed forms.
func closedFormChecks(t *testing.T) []outside {
	var c struct {
		Inputs struct {
			CJS4   struct{ Counts map[string]int }
			SGR    struct{ W1, W2, L1, L2, Days float64 }
			Fulton struct {
				W   float64
				LMM float64 `json:"L_mm"`
			}
		}
		Values struct {
			CJS4 struct {
				Phi, P  []float64
				Product float64 `json:"S_product"`
				SE      float64 `json:"S_product_se_with_cov"`
				Minus2  float64 `json:"neg2lnL"`
			}
			Fulton struct{ K float64 }
		}
	}
	fromJSON(t, published+"closed_form/closed_form.json", &c)
	h := &history.Histories{Cohorts: []string{"all"}}
	for _, s := range []string{"A", "B", "C", "D"} {
		h.River.Sites = append(h.River.Sites, history.Site{Name: s, Km: math.NaN(), Days: math.NaN()})
	}
	var words []string
	for s := range c.Inputs.CJS4.Counts {
		words = append(words, s)
	}
	slices.Sort(words)
	for _, s := range words {
		var seen uint64
		for k := 1; k < 4; k++ {
			seen |= uint64(s[k]-'0') << (k - 1)
		}
		h.Entry, h.Seen, h.End = append(h.Entry, 0), append(h.Seen, seen), append(h.End, history.Open)
		h.Cohort, h.Count = append(h.Cohort, 0), append(h.Count, int32(c.Inputs.CJS4.Counts[s]))
	}
	f := fitOf(t, model.Input{Histories: h}, model.Spec{}, cjs.Options{})
	v := c.Values.CJS4
	const source = "closed forms (Seber 1982; Burnham et al. 1987): closed_form/closed_form.py"
	const test = "cjs TestClosedFormExamples"
	out := []outside{
		{"single release, 4 sites: −2 ln L", source, fixed(v.Minus2, 7), fixed(f.MinusTwoLogLikelihood, 7), "1e-8", test},
		{"single release: survival of two reaches", source, fixed(v.Phi[0], 9) + ", " + fixed(v.Phi[1], 9), fixed(f.Survival[0].Value, 9) + ", " + fixed(f.Survival[1].Value, 9), "1e-9", test},
		{"single release: detection at two sites", source, fixed(v.P[0], 9) + ", " + fixed(v.P[1], 9), fixed(f.Detection[0].Value, 9) + ", " + fixed(f.Detection[1].Value, 9), "1e-9", test},
		{"whole path: share passed (SE with covariance)", source, fixed(v.Product, 4) + " (" + fixed(v.SE, 4) + ")", fixed(f.Passed[1].PassedShare.Value, 4) + " (" + fixed(f.Passed[1].PassedShare.SE, 4) + ")", "1e-9 (SE 1e-8)", test},
		{"condition factor", "formula of Fulton 1904: closed_form/closed_form.py", fixed(c.Values.Fulton.K, 9), fixed(growth.Condition(c.Inputs.Fulton.LMM, c.Inputs.Fulton.W), 9), "1e-12", "history/growth TestRatesAgainstReference"},
	}
	return out
}

// smallChecks are small published examples and library values.
func smallChecks(t *testing.T) []outside {
	var small struct {
		Modde struct {
			Estimate, SE float64
			Published    struct {
				CI []float64 `json:"ci95_logit"`
			}
		} `json:"razorback_modde1996"`
		Osmundson struct {
			P         []float64 `json:"p_per_pass"`
			Published struct {
				Any []float64 `json:"p_any"`
			}
		} `json:"pikeminnow_osmundson1998"`
		Hald struct {
			Computed struct {
				Models map[string]struct{ AICc, W float64 }
			}
		} `json:"hald_cement_burnham2002"`
	}
	fromJSON(t, published+"published_small/published_small.json", &small)
	var out []outside
	const half = "half a unit in the last digit"
	low, high, _ := cjs.Interval(small.Modde.Estimate, small.Modde.SE, distuv.UnitNormal.Quantile(0.975))
	out = append(out, outside{"logit interval of 0.708 (SE 0.0246)", "Modde, Burnham & Wick 1996, Conservation Biology 10:110–119, p. 114",
		fixed(small.Modde.Published.CI[0], 3) + " to " + fixed(small.Modde.Published.CI[1], 3), fixed(low, 3) + " to " + fixed(high, 3), half, "cjs TestLogitInterval"})
	var passes, theirs, ours []string
	for i, p := range small.Osmundson.P {
		h := &history.Histories{Cohorts: []string{"all"}, River: history.River{Sites: []history.Site{{Name: "A"}, {Name: "B", Rows: []string{"1", "2", "3"}}}},
			Entry: []uint8{0, 0}, Seen: []uint64{0, 1}, End: []history.End{history.Open, history.Open}, Cohort: []int32{0, 0}}
		var holds []model.Hold
		for row := range 3 {
			holds = append(holds, model.Hold{Reach: -1, Row: row, Value: p})
		}
		f := fitOf(t, model.Input{Histories: h, Holds: holds}, model.Spec{}, cjs.Options{})
		passes, theirs, ours = append(passes, fixed(p, 3)), append(theirs, fixed(small.Osmundson.Published.Any[i], 3)), append(ours, fixed(f.Detection[3].Value, 3))
	}
	out = append(out, outside{"detection of three passes of " + strings.Join(passes, ", "), "Osmundson & Burnham 1998, Transactions of the American Fisheries Society 127:957–970, Table 4",
		strings.Join(theirs, ", "), strings.Join(ours, ", "), half, "cjs TestWholeSiteDetection"})
	w := cjs.Wilson(15, 148, distuv.UnitNormal.Quantile(0.975))
	out = append(out, outside{"score interval of 15 of 148", "independent, SciPy 1.10.1: scipy/in_tests.py", "0.0623863995 to 0.1604872417", fixed(w.Low, 10) + " to " + fixed(w.High, 10), half, "cjs TestWilson"})

	// Weights from the AICc of the 15 regressions.
	var aicc, weights []float64
	for _, m := range small.Hald.Computed.Models {
		aicc, weights = append(aicc, m.AICc), append(weights, m.W)
	}
	off := 0.0
	for i, w := range compare.Weights(aicc) {
		off = max(off, math.Abs(w-weights[i]))
	}
	out = append(out, outside{fmt.Sprintf("AICc weights of %d regressions", len(aicc)), "independent, NumPy 1.24.2: published_small/hald.py", "all within 1e-9", within(off, 1e-9), "1e-9", "cjs/compare TestHaldCement"})

	var iso struct {
		Codes []struct {
			Decimal string
			DotHex  string `json:"dot_hex"`
		}
	}
	fromJSON(t, published+"iso11784/iso11784.json", &iso)
	for _, c := range iso.Codes[:2] {
		code, err := tagcode.Parse(c.DotHex)
		require.NoError(t, err)
		out = append(out, outside{"tag code " + c.DotHex + " in decimal", "ISO 11784:1996, bit layout", c.Decimal, code.String(), "exact", "history/tagcode TestEveryFormIsTheSameFish"})
	}

	var law struct {
		Points []struct {
			T, Km, Drift, Spread float64
			Exact                map[string]*float64
		}
	}
	fromJSON(t, published+"scipy/first_passage.json", &law)
	worst := 0.0
	for _, p := range law.Points {
		if want := p.Exact["cdf"]; want != nil && *want > 0 {
			got := passtime.Law{Km: p.Km, Drift: p.Drift, Spread: p.Spread}.CDF(p.T)
			worst = max(worst, math.Abs(got / *want - 1))
		}
	}
	out = append(out, outside{fmt.Sprintf("first-passage law at %d points", len(law.Points)), "independent, mpmath 1.2.1 and SciPy 1.10.1: scipy/first_passage.py", "all within 1e-12", within(worst, 1e-12), "1e-12 relative", "likelihood/passtime TestLawAgainstSciPy"})

	var several struct {
		Points []struct {
			Path   [][3]float64
			T, CDF float64
		}
	}
	fromJSON(t, published+"mpmath/stretches.json", &several)
	worst = 0
	for _, x := range several.Points {
		var p passtime.Path
		for _, l := range x.Path {
			p = append(p, passtime.Law{Km: l[0], Drift: l[1], Spread: l[2]})
		}
		var d passtime.Derived
		p.Arrivals(x.T, 0, &d)
		worst = max(worst, math.Abs(d.Value/x.CDF-1))
	}
	out = append(out, outside{fmt.Sprintf("times over several laws at %d points", len(several.Points)), "independent, mpmath 1.3.0: mpmath/stretches.py", "all within 1e-10", within(worst, 1e-10), "1e-11 relative, more where exponents of hundreds cancel", "likelihood/passtime TestPathAgainstMpmath"})

	least, most := simulate.Band(200, 40, 0.95, 0.95, 0.999)
	out = append(out, outside{"simultaneous binomial band (200 trials, 40 counts)", "exact fractions in Python: scipy/in_tests.py", "175 to 200", fmt.Sprintf("%d to %d", least, most), "exact", "cjs/simulate TestBand"})
	s := &replicate.Set{Names: []string{"x"}, Estimates: []float64{15.5}}
	for i := range 39 {
		s.Replicates = append(s.Replicates, replicate.Replicate{Index: i + 1, Estimates: []float64{float64(i + 1)}})
	}
	e := summarise(t, s, 0.90).Estimates[0]
	out = append(out, outside{"bias-corrected interval of 39 replicates", "formula of Efron & Tibshirani 1993 in Python: scipy/in_tests.py", "1.487167 to 33.489736", fixed(e.CorrectedLow, 6) + " to " + fixed(e.CorrectedHigh, 6), "1e-6", "cjs/replicate TestSummaryByHand"})
	return out
}

// studyRecord is a file of testdata/studies.
type studyRecord struct {
	All *simulate.Result `json:"all"`
}

// validationPages makes docs/validation.md, and testdata/studies/README.md with the
// tables of the simulation studies.
func validationPages(t *testing.T) map[string]string {
	return map[string]string{"../../docs/validation.md": validationPage(t), "../../testdata/studies/README.md": studiesPage(t)}
}

func validationPage(t *testing.T) string {
	var b strings.Builder
	b.WriteString(`# Validation

What the program's numbers are compared with. ` + "`go test ./cmd/unseen -run TestValidationPage -update`" + ` makes this page from the tests' records.

## Against values from outside

A source is a publication (with page or table where it prints the number), or a script in [testdata/published](../testdata/published) that computes the values independently with the program named (*independent*). Each value stands with its tolerance, its source and the test that compares it.

`)
	var before outside
	for _, c := range outsideChecks(t) {
		// TestValidationNamesTests: the value there is ours to the digits shown.
		fmt.Fprintf(&b, "- **%s**: %s (%s); %s\n", c.what, c.theirs, c.tolerance, unlessSame(c.source+"; "+c.test, before.source+"; "+before.test))
		before = c
	}
	b.WriteString(`
Also computed independently: retention, link functions, eight studies of thin data ([testdata/hard/thin](../testdata/hard/thin): −2 ln L to 1e-6, estimates and profile limits to 1e-3), the likelihood with outages ([testdata/outages](../testdata/outages): 1e-8), the checks of fit, planned standard errors.

## Against simulated truth

Seeds and limits were fixed before the run shown. *Coverage* is the share of 95 % intervals that contain the true value, least and greatest over the estimates judged; *bias/SD* the largest |bias| over the standard deviation of the estimates. Every design, its limits, and what changed after earlier runs: [testdata/studies](../testdata/studies/README.md).

| study | designs | replicates each | coverage % | bias/SD | test |
|---|---|---|---|---|---|
`)
	summaryLines(t, &b)
	b.WriteString(`
What they show:

- Logit intervals fail where counts are small or a truth is at 0 or 1; there the fit warns in 90 % of replicates or more, and the default (` + "`--interval auto`" + `) takes profile likelihood.
- A model with one law of travel is biased where fish travel at two rates or depart late. The program tests for it between reaches and, with declared outages, between fish; without outages two rates or late departure give no warning.
- Bias above 0.1 SD stands where a truth is at 1 or counts are small, where the law of travel does not hold, and in designs of few replicates.

How often the checks of fit reject: [checks.md](checks.md#how-often-the-checks-reject).

## Random input

10.3 million inputs that Go's fuzzing made, 1.2 to 3.6 million each of tags, model terms, times, spreadsheet texts and wishes of a plan: no crash, no record lost. 13 million composed of awkward pieces (testdata/pieces): nine faults, mended, three of which lost or misread records. One fault, not mended: where a key that stood as a list of tables is set to a table, a comment above the list ends up below the new table.
`)
	return b.String()
}

// unlessSame is where a value comes from; likewise, where the one above does.
func unlessSame(from, above string) string {
	if from == above {
		return "likewise"
	}
	return from
}

// studiesPage makes testdata/studies/README.md.
func studiesPage(t *testing.T) string {
	var b strings.Builder
	b.WriteString(`# Simulation studies

Studies of known truth, fitted like any other; made from the records in this folder by ` + "`go test ./cmd/unseen -run TestValidationPage -update`" + `. *bias/SD* is the largest |bias| over the standard deviation of the estimates; *intervals* the least and largest coverage of 95 % intervals, by kind of estimate; *doubted* the share of fits with a warning about the data. Seeds and limits were fixed before the run that is shown; pilot runs with the same seeds (1,500 replicates at most) set the numbers of fish of the coverage designs and the size of the flow effect, and the season study's choice between point and interval was settled on three earlier full runs with other replicates.

### The share that passed, and coefficients

Intervals on the logit scale, forced. Limits: |bias| below 0.1 SD + 3 Monte Carlo standard errors; intervals within the simultaneous 99.9 % binomial band around 95 % (` + "cjs/simulate TestPassedStudies, TestEffectStudies" + `).

`)
	b.WriteString(studyHead + "passed: intervals % | fish passed | coefficient |\n| --- | --- | --- | --- | --- | --- | --- |\n")
	records, order := studyRecords(t)
	for _, name := range order {
		if r := records[name]; r.Replicates < 10000 {
			studyLine(&b, r, []string{"passed", "passed fish", "coefficient"}, "")
		}
	}
	b.WriteString(`
### Coverage

10,000 replicates a design; intervals on the logit scale, forced, to show where that scale can be trusted and where the default leaves it. Counts are adequate where every coverage lies within the simultaneous 99.9 % band around 94 to 96 %; there at most 5 % of the fits may warn, elsewhere at least 90 % must (` + "cjs/simulate TestCoverageStudies" + `). A truth at a bound is in no logit interval.

`)
	b.WriteString(studyHead + "survival: intervals % | detection | passed | counts |\n| --- | --- | --- | --- | --- | --- | --- | --- |\n")
	for _, name := range order {
		r := records[name]
		if r.Replicates < 10000 {
			continue
		}
		verdict := "adequate"
		if !adequate(records, r) {
			verdict = "not adequate"
		}
		studyLine(&b, r, coverageKinds, verdict)
	}
	thinLines(t, &b)
	seasonLines(t, &b)
	unevenLines(t, &b)
	outageLines(t, &b)
	return b.String()
}

// adequate tells whether the counts of a coverage study are: every coverage is
// within the simultaneous band of all of them.
func adequate(records map[string]*simulate.Result, r *simulate.Result) bool {
	family := 0
	for _, x := range records {
		if x.Replicates >= 10000 {
			family += len(kept(x, coverageKinds))
		}
	}
	for _, q := range kept(r, coverageKinds) {
		if least, most := simulate.Band(q.Intervals, family, 0.94, 0.96, 0.999); q.Covered < least || q.Covered > most {
			return false
		}
	}
	return true
}

const studyHead = "| design (seed) | model | bias/SD | doubted % | "

var coverageKinds = []string{"survival", "detection", "passed"}

func kept(r *simulate.Result, kinds []string) (out []simulate.Quantity) {
	for _, q := range r.Quantities {
		if slices.Contains(kinds, q.Kind) && q.Intervals > 0 {
			out = append(out, q)
		}
	}
	return out
}

// spread is the least and largest coverage of the estimates of a kind, and their
// largest |bias|/SD; "" where there are none.
func spread(r *simulate.Result, kind string) (intervals string, bias float64) {
	low, high := math.Inf(1), math.Inf(-1)
	for _, q := range kept(r, []string{kind}) {
		low, high = min(low, q.Coverage()), max(high, q.Coverage())
		if q.SD > 0 {
			bias = max(bias, math.Abs(q.Bias)/q.SD)
		}
	}
	if math.IsInf(low, 1) {
		return "", 0
	}
	return fixed(100*low, 1) + "–" + fixed(100*high, 1), bias
}

// studyLine is the line of a study: its intervals by kind of estimate.
func studyLine(b *strings.Builder, r *simulate.Result, kinds []string, verdict string) {
	worst := 0.0
	var cells []string
	for _, kind := range kinds {
		intervals, bias := spread(r, kind)
		worst = max(worst, bias)
		cells = append(cells, intervals)
	}
	if verdict != "" {
		cells = append(cells, verdict)
	}
	fmt.Fprintf(b, "| %s (%d) | %s | %s | %s | %s |\n", r.About, r.Seed, r.Model, fixed(worst, 3), fixed(100*float64(r.Doubted)/float64(r.Replicates), 1), strings.Join(cells, " | "))
}

// studyRecords are the committed studies, in the order of their seeds.
func studyRecords(t *testing.T) (map[string]*simulate.Result, []string) {
	files, err := filepath.Glob("../../testdata/studies/*.json")
	require.NoError(t, err)
	records := map[string]*simulate.Result{}
	var order []string
	for _, file := range files {
		if name := filepath.Base(file); strings.HasPrefix(name, "season-") || name == "thin.json" {
			continue // of another form: see seasonLines, and TestThin of cjs/simulate
		}
		r := new(studyRecord)
		fromJSON(t, file, r)
		records[r.All.Study] = r.All
		order = append(order, r.All.Study)
	}
	require.GreaterOrEqual(t, len(order), 24, "the records of the studies are missing")
	slices.SortFunc(order, func(a, b string) int { return int(records[a].Seed) - int(records[b].Seed) })
	return records, order
}

// TestValidationPage: docs/validation.md and testdata/studies/README.md are what the
// records and the toolkit make now, and every test named there exists.
func TestValidationPage(t *testing.T) {
	if testing.Short() && !*update {
		t.Skip("not with -short")
	}
	for file, now := range validationPages(t) {
		if *update {
			require.NoError(t, os.WriteFile(file, []byte(now), 0o644))
		}
		have, err := os.ReadFile(file)
		require.NoError(t, err)
		assert.Equal(t, string(have), now, "%s is not current; if what it would say is right: go test ./cmd/unseen -run TestValidationPage -update", file)
		assert.True(t, bytes.HasPrefix(have, []byte("# ")))
	}
}

// TestValidationNamesTests: the tests the page names exist.
func TestValidationNamesTests(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	checks := outsideChecks(t)
	assert.GreaterOrEqual(t, len(checks), 20)
	seen := map[string]bool{}
	for _, c := range checks {
		assert.Equal(t, c.theirs, c.ours, "%s: the digits shown of both are the same", c.what)
		if seen[c.test] {
			continue
		}
		seen[c.test] = true
		folder, name, ok := strings.Cut(c.test, " ")
		require.True(t, ok, c.test)
		assert.True(t, hasTest(t, folder, name), "%s has no test %s", folder, name)
	}
	for _, name := range []string{"TestSeasonStudy", "TestUnevenStudy"} {
		assert.True(t, hasTest(t, "cjs/season", name))
	}
	for _, name := range []string{"TestPassedStudies", "TestEffectStudies", "TestCoverageStudies"} {
		assert.True(t, hasTest(t, "cjs/simulate", name), name)
	}
	assert.False(t, hasTest(t, "cjs", "TestOfNothing"))
}

// hasTest looks for a test function among a folder's files.
func hasTest(t *testing.T, folder, name string) bool {
	files, err := filepath.Glob(filepath.Join("../..", folder, "*_test.go"))
	require.NoError(t, err)
	for _, f := range files {
		b, err := os.ReadFile(f)
		require.NoError(t, err)
		if bytes.Contains(b, []byte("\nfunc "+name+"(t *testing.T)")) {
			return true
		}
	}
	return false
}

// summarise sums up a set that is known to be sound.
func summarise(t *testing.T, s *replicate.Set, level float64) *replicate.Summary {
	t.Helper()
	sum, err := s.Summarise(level)
	require.NoError(t, err)
	return sum
}
