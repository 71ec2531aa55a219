package simulate_test

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/simulate"
)

// The limits of the study of thin data, fixed before its first run. What is
// judged is passed % of all fish at each site, in the replicates without a
// doubt about that row and in those that gave no answer though they could.
const (
	// thinLow and thinHigh are the limits of the coverage of 95 % intervals, give
	// or take two Monte Carlo standard errors.
	thinLow, thinHigh = 0.93, 0.975
	// thinLeast: with fewer replicates a row is not judged.
	thinLeast = 200
	// fewExpected: where fewer deaths or misses are expected, only the lower
	// limit binds; so where the truth is at a bound, and up to smallStudy fish.
	fewExpected = 5
	smallStudy  = 30
	// plainLess: at such an edge the coverage need not be higher than that of the
	// likelihood-ratio interval of a plain binomial of that size, less this.
	plainLess = 0.01
	// oftenBound: where more of the replicates have something at 0 or 1 the
	// estimates are cut off there, and not their mean but their median is told.
	// (Added when the first design of a first run, of other seeds, was cut off so.)
	oftenBound = 0.1
	// thinDoubted is the largest share of doubted replicates where data are ample.
	thinDoubted = 0.05
	// thinDesigns is the least number of designs with a row that is judged.
	thinDesigns = 24
)

// plainCoverage is the chance, exact by enumeration, that the 95 % interval by
// the likelihood ratio holds the probability p of a binomial of n trials.
func plainCoverage(n int, p float64) float64 {
	const limit = 3.841458820694124 // chi-squared with one degree of freedom, 0.95
	logChoose := func(x int) float64 {
		a, _ := math.Lgamma(float64(n + 1))
		b, _ := math.Lgamma(float64(x + 1))
		c, _ := math.Lgamma(float64(n - x + 1))
		return a - b - c
	}
	// x log(p), nothing where there is nothing to count.
	times := func(x int, p float64) float64 {
		if x == 0 {
			return 0
		}
		return float64(x) * math.Log(p)
	}
	var held float64
	for x := range n + 1 {
		at := times(x, p) + times(n-x, 1-p)
		best := times(x, float64(x)/float64(n)) + times(n-x, float64(n-x)/float64(n))
		if 2*(best-at) <= limit {
			held += math.Exp(logChoose(x) + at)
		}
	}
	return held
}

// binomial is what a row would be with every fish seen, or one reach or array
// of it by itself.
type binomial struct {
	n int
	p float64 // of what is rare, or is estimated
}

// around are the binomials behind the passed share at site k: of all fish that
// passed; of the fish entering each reach above that survive it; and of the
// fish passing the site that are missed by it.
func around(t *simulate.Truth, k int) (whole binomial, reaches []binomial, missed binomial) {
	var fish, passed float64
	entering, survived := make([]float64, k), make([]float64, k)
	var unseen float64
	for i := range t.Cohorts {
		c := &t.Cohorts[i]
		n := float64(c.Fish)
		fish += n
		for r := range k {
			entering[r] += n
			n *= c.Survival[r]
			survived[r] += n
		}
		passed += n
		for b := t.River.FirstRow(k); b < t.River.FirstRow(k)+t.River.Sites[k].RowCount(); b++ {
			n *= 1 - c.Detection[b]
		}
		unseen += n
	}
	for r := range k {
		reaches = append(reaches, binomial{int(math.Round(entering[r])), survived[r] / entering[r]})
	}
	return binomial{int(fish), passed / fish}, reaches, binomial{int(math.Round(passed)), unseen / passed}
}

// edge tells whether the truth of a row lies at a bound or few deaths or misses
// are expected, and whether for that or for few fish only the lower limit
// binds; and by which plain binomials it is then set.
func (s *thinStudy) edge(k int) (bound, onlyLow bool, plain func(t *simulate.Truth) []binomial) {
	rare := func(b binomial, p float64) bool { return float64(b.n)*p < fewExpected }
	whole, reaches, missed := around(&s.centre, k)
	var at []bool
	for _, r := range reaches {
		at = append(at, rare(r, 1-r.p))
	}
	few, unseen := rare(whole, 1-whole.p), rare(missed, missed.p)
	bound = few || unseen
	for _, x := range at {
		bound = bound || x
	}
	small := whole.n <= smallStudy
	return bound, bound || small, func(t *simulate.Truth) (out []binomial) {
		whole, reaches, missed := around(t, k)
		if few || small {
			out = append(out, whole)
		}
		for r, x := range at {
			if x {
				out = append(out, reaches[r])
			}
		}
		if unseen {
			out = append(out, missed)
		}
		return out
	}
}

// lowest is the lower limit for the row of site k, before Monte Carlo error:
// the coverage of the plain binomials is that over 200 truths of the study.
func (s *thinStudy) lowest(k int) float64 {
	low := thinLow
	_, onlyLow, plain := s.edge(k)
	if !onlyLow {
		return low
	}
	const truths = 200
	sums := make([]float64, len(plain(&s.centre)))
	rnd := rand.New(rand.NewPCG(s.Seed, 0))
	for range truths {
		t := s.Vary(rnd)
		for i, b := range plain(&t) {
			sums[i] += plainCoverage(b.n, b.p) / truths
		}
	}
	for _, c := range sums {
		low = min(low, c-plainLess)
	}
	return low
}

// row is how one site of a study came out.
type row struct {
	site          string
	n, covered    int     // replicates judged, and those that cover
	low, high     float64 // limits, without Monte Carlo error; high 1 where none binds
	doubted       float64 // share of the replicates
	bound, judged bool
	broken        []string
}

func (r *row) coverage() float64 { return float64(r.covered) / float64(r.n) }

func (r *row) String() string {
	words := fmt.Sprintf("%-11s %4d judged, %5.1f %% doubted, coverage %5.1f %% (%.1f to %.1f)", r.site, r.n, 100*r.doubted, 100*r.coverage(), 100*r.low, 100*r.high)
	if !r.judged {
		words += ", too few to judge"
	}
	return words
}

// judge holds the rows of a result to the limits.
func (s *thinStudy) judge(r *simulate.Result) (out []row) {
	for _, q := range r.Quantities {
		k := s.centre.River.SiteIndex(q.At)
		x := row{site: q.At, n: q.Undoubted.Intervals + q.Missed, covered: q.Undoubted.Covered, low: s.lowest(k), high: thinHigh}
		able := float64(r.Replicates - q.Impossible)
		x.doubted = 1 - float64(q.Undoubted.Intervals)/able
		fail := func(format string, args ...any) {
			x.broken = append(x.broken, fmt.Sprintf("%s, %s: ", s.Name, q.At)+fmt.Sprintf(format, args...))
		}
		var onlyLow bool
		if x.bound, onlyLow, _ = s.edge(k); onlyLow {
			x.high = 1
		}
		error := func(p float64) float64 { return 2 * math.Sqrt(p*(1-p)/float64(x.n)) }
		if float64(r.Warned[cjs.WarnBoundary]) > oftenBound*float64(r.Replicates) {
			x.bound = true
		}
		if x.judged = x.n >= thinLeast; x.judged {
			if c := x.coverage(); c < x.low-error(x.low) || c > x.high+error(x.high) {
				fail("coverage of %.1f %% in %d replicates (%d without an answer; %d intervals too low, %d too high), allowed %.1f to %.1f %% ± %.1f", 100*c, x.n, q.Missed, q.Undoubted.Low, q.Undoubted.High, 100*x.low, 100*x.high, 100*error(x.low))
			}
			// Bias is that of all estimates: those in doubt differ from the others
			// by their size, and leaving them out would make a bias of its own.
			if most := 0.1*q.SD + 3*q.BiasSE; !x.bound && !(math.Abs(q.Bias) < most) {
				fail("bias of %.4f, allowed %.4f", q.Bias, most)
			}
		}
		if s.ample && x.doubted > thinDoubted {
			fail("%.1f %% of the replicates doubted though data are ample", 100*x.doubted)
		}
		out = append(out, x)
	}
	return out
}

// thinFile holds the record of every design, in their order.
var thinFile = filepath.Join(studiesFolder, "thin.json")

func readThin(t testing.TB) []record {
	t.Helper()
	b, err := os.ReadFile(thinFile)
	require.NoError(t, err, "the study of thin data has no record; write it with -full")
	var out []record
	require.NoError(t, json.Unmarshal(b, &out))
	return out
}

// TestPlainCoverage by hand: of 5 trials with 0.9, likelihood ratios of 3 to 5
// successes are 3.11, 0.44, 1.05 and of 2 it is 7.5; of 10 with 0.99, of 9 and
// 10 they are 2.89 and 0.20 and of 8 it is 8.6; a certainty is always held.
func TestPlainCoverage(t *testing.T) {
	assert.InDelta(t, 1-(0.00001+5*0.9*0.0001+10*0.81*0.001), plainCoverage(5, 0.9), 1e-12)
	assert.InDelta(t, math.Pow(0.99, 10)+10*0.01*math.Pow(0.99, 9), plainCoverage(10, 0.99), 1e-12)
	assert.InDelta(t, 1, plainCoverage(50, 1), 1e-12)
	assert.InDelta(t, 1, plainCoverage(50, 0), 1e-12)
	assert.InDelta(t, plainCoverage(40, 0.3), plainCoverage(40, 0.7), 1e-12)
}

// TestThinEdges: which rows lie at an edge, by hand. Of 200 fish 160 come to
// the second reach, which all survive; 128 pass the last site, 32 of them
// unseen by two rows of .5. Of 100 fish 49 pass an array that sees all.
func TestThinEdges(t *testing.T) {
	list := thinStudies()
	for _, c := range []struct {
		name           string
		site           int
		bound, onlyLow bool
		plain          []binomial
	}{
		{"survival-1", 1, false, false, nil},
		{"survival-1", 2, true, true, []binomial{{160, 1}}},
		{"survival-1", 3, true, true, []binomial{{160, 1}}},
		{"all-seen", 1, false, false, nil},
		{"all-seen", 2, true, true, []binomial{{49, 0}}},
		{"all-seen", 3, false, false, nil},
		{"thirty", 1, false, true, []binomial{{30, 0.7}}},
		{"thirty-high", 1, true, true, []binomial{{30, 0.9}, {30, 0.9}}},
		{"two-rows-ample", 2, false, false, nil},
	} {
		found := false
		for i := range list {
			s := &list[i]
			if s.Name != c.name {
				continue
			}
			found = true
			bound, onlyLow, plain := s.edge(c.site)
			assert.Equal(t, c.bound, bound, "%s %d", c.name, c.site)
			assert.Equal(t, c.onlyLow, onlyLow, "%s %d", c.name, c.site)
			got := plain(&s.centre)
			require.Len(t, got, len(c.plain), "%s %d", c.name, c.site)
			for j, b := range c.plain {
				assert.Equal(t, b.n, got[j].n)
				assert.InDelta(t, b.p, got[j].p, 1e-12)
			}
		}
		assert.True(t, found, c.name)
	}
}

// TestThinJudge: what breaks a limit is told, and nothing else.
func TestThinJudge(t *testing.T) {
	var s *thinStudy
	list := thinStudies()
	for i := range list {
		if list[i].Name == "two-rows-ample" {
			s = &list[i]
		}
	}
	broken := func(set func(*simulate.Quantity)) []string {
		q := simulate.Quantity{Kind: "passed", At: "Tidehead", Given: 1990, SD: 0.03, BiasSE: 0.0007, Undoubted: &simulate.Undoubted{Given: 1950, Intervals: 1950, Covered: 1852}}
		set(&q)
		rows := s.judge(&simulate.Result{Replicates: 2000, Quantities: []simulate.Quantity{q}})
		require.Len(t, rows, 1)
		return rows[0].broken
	}
	none := func(set func(*simulate.Quantity)) { t.Helper(); assert.Empty(t, broken(set)) }
	one := func(want string, set func(*simulate.Quantity)) {
		t.Helper()
		if got := broken(set); assert.Len(t, got, 1) {
			assert.Contains(t, got[0], want)
		}
	}
	none(func(*simulate.Quantity) {})
	// 2 √(.93 · .07 / 1950) is 1.16 points, 2 √(.975 · .025 / 1950) 0.71.
	none(func(q *simulate.Quantity) { q.Undoubted.Covered = 1791 })
	one("coverage of 91.7 %", func(q *simulate.Quantity) { q.Undoubted.Covered = 1789 })
	none(func(q *simulate.Quantity) { q.Undoubted.Covered = 1915 })
	one("coverage of 98.3 %", func(q *simulate.Quantity) { q.Undoubted.Covered = 1916 })
	// Without an answer a replicate does not cover, whatever it warns of.
	one("60 without an answer", func(q *simulate.Quantity) { q.Undoubted.Covered, q.Missed = 1840, 60 })
	one("bias", func(q *simulate.Quantity) { q.Bias = 0.0052 })
	none(func(q *simulate.Quantity) { q.Bias = -0.005 })
	// Not where estimates are often cut off at a bound.
	q := simulate.Quantity{Kind: "passed", At: "Tidehead", Given: 1990, SD: 0.03, BiasSE: 0.0007, Bias: 0.01, Undoubted: &simulate.Undoubted{Given: 1950, Intervals: 1950, Covered: 1852}}
	for n, want := range map[int]int{200: 1, 201: 0} {
		rows := s.judge(&simulate.Result{Replicates: 2000, Quantities: []simulate.Quantity{q}, Warned: map[string]int{cjs.WarnBoundary: n}})
		assert.Len(t, rows[0].broken, want)
	}
	one("doubted", func(q *simulate.Quantity) { q.Undoubted.Intervals, q.Undoubted.Covered = 1890, 1796 })
	none(func(q *simulate.Quantity) {
		q.Undoubted.Intervals, q.Undoubted.Covered, q.Impossible = 1890, 1796, 20
	})
	one("doubted", func(q *simulate.Quantity) { q.Undoubted.Intervals, q.Undoubted.Covered = 150, 10 })
}
