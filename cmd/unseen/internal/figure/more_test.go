package figure

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/assess"
	"example.org/unseen/cjs/simulate"
	"example.org/unseen/cmd/unseen/internal/canvas"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history"
	"example.org/unseen/history/study"
)

// sums adds a column of a figure's table up by another.
func sums(f *Figure, by, column int) map[string]float64 {
	out := map[string]float64{}
	for _, r := range f.Table.Rows {
		out[r[by].Text] += r[column].Value
	}
	return out
}

// TestNewFiguresHoldAllFish: what is counted for a figure adds up to the fish
// that the histories have, counted here in another way.
func TestNewFiguresHoldAllFish(t *testing.T) {
	d := fitted(t, demoStudy, analysis.Choice{})
	h := d.Histories
	masks := h.River.SiteMasks()

	weeks := Weeks(d)
	passed, seen := sums(weeks, 0, 2), sums(weeks, 0, 3)
	for k := 1; k < len(masks)-1; k++ {
		below, both := 0, 0
		for i := range h.Len() {
			farther := false
			for j := k + 1; j < len(masks); j++ {
				farther = farther || h.Seen[i]&masks[j] != 0
			}
			if farther && h.Released[i] != history.NoTime {
				below++
				both += of(h.Seen[i]&masks[k] != 0)
			}
		}
		name := h.River.Sites[k].Name
		assert.Equal(t, float64(below), passed[name], name)
		assert.Equal(t, float64(both), seen[name], name)
	}

	so := Cumulative(d)
	last := map[string][2]float64{}
	for _, r := range so.Table.Rows {
		assert.Greater(t, r[2].Value, last[r[0].Text][0], "the number that had come never falls")
		last[r[0].Text] = [2]float64{r[2].Value, r[3].Value}
	}
	byDay := sums(Arrivals(d), 0, 3)
	for _, p := range d.Fit.Passed {
		if len(p.Of) == 0 {
			name := h.River.Sites[p.Site].Name
			assert.Equal(t, float64(p.Seen), last[name][0])
			// The same weights summed in another order: rounding alone.
			assert.InEpsilon(t, byDay[name], last[name][1], 1e-12, name)
		}
	}

	lengths := Lengths(d.Data)
	again, never := 0.0, 0.0
	for _, r := range lengths.Table.Rows {
		again, never = again+r[2].Value, never+r[3].Value
	}
	want := 0
	for i := range h.Len() {
		want += of(h.Seen[i] != 0)
	}
	assert.Equal(t, float64(want), again)
	assert.Equal(t, float64(h.Len()-want), never)

	tracks := Tracks(d.Data)
	for _, r := range tracks.Table.Rows {
		for _, c := range r {
			for _, tag := range h.Tag[:50] {
				require.NotContains(t, c.Text, tag, "a picture of single fish names none")
			}
		}
	}
	assert.Contains(t, tracks.Caption, "150 of the", "thirty of each of five cohorts")
}

// TestExpectedAddsUp: what is expected of each table sums to what was counted,
// and the statistic of a chi-square test comes out again.
func TestExpectedAddsUp(t *testing.T) {
	d := fitted(t, demoStudy, analysis.Choice{})
	a := assess.OfModel(d.Fit.Problem)
	f := Expected(d, a)
	at, checked := 0, 0
	for i := range a.Tables {
		x := &a.Tables[i]
		if x.Method == "" || len(x.Tested()) == 0 {
			continue
		}
		observed, expected, statistic := 0.0, 0.0, 0.0
		for range len(x.Tested()) * len(x.Tested()[0]) {
			r := f.Table.Rows[at]
			observed, expected = observed+r[4].Value, expected+r[5].Value
			statistic += (r[4].Value - r[5].Value) * (r[4].Value - r[5].Value) / r[5].Value
			at++
		}
		assert.InEpsilon(t, observed, expected, 1e-12, "sums of a few numbers")
		if x.Method == assess.ChiSquare {
			checked++
			assert.InDelta(t, x.Statistic, statistic, 1e-9*(1+x.Statistic), x.Check)
		}
	}
	assert.Equal(t, len(f.Table.Rows), at)
	assert.Positive(t, checked)
}

// TestForestShowsEachModel: the value of each ranked model is that of its fit.
func TestForestShowsEachModel(t *testing.T) {
	d := fitted(t, demoStudy, analysis.Choice{})
	r, err := d.Compare(context.Background(), d.Specs(), analysis.Options{}, nil)
	require.NoError(t, err)
	f := Forest(d.Data, r)
	body := f.body.(*rows)
	n := 0
	for _, v := range r.Variants {
		for _, p := range v.Fit.Passed {
			if len(p.Of) == 0 && p.Site == len(d.Histories.River.Sites)-1 {
				x := body.groups[0].rows[n]
				assert.Equal(t, percent(p.PassedShare), x.Estimate)
				assert.True(t, strings.HasPrefix(x.label, v.Name()))
				n++
			}
		}
	}
	assert.Equal(t, 2, n)
	assert.True(t, body.groups[0].rows[n].strong, "the average")
}

// TestPer100Km: raised to the power, ends and value alike; what is not there
// stays away.
func TestPer100Km(t *testing.T) {
	e := cjs.Estimate{Value: .8, Low: .7, High: math.NaN(), Status: cjs.Borrowed}
	got := per100(e, 20)
	assert.InDelta(t, .32768, got.Value, 1e-15, "0.8⁵")
	assert.InDelta(t, .16807, got.Low, 1e-15, "0.7⁵")
	assert.True(t, math.IsNaN(got.High))
	assert.Equal(t, cjs.Borrowed, got.Status)
}

// simulated is a simulation with known coverage.
func simulated(t *testing.T) *analysis.Simulated {
	t.Helper()
	s := &analysis.Simulated{Source: analysis.Source{Title: "Hollin Water"}, Study: &simulate.Study{}, Truth: "the fit", Result: &simulate.Result{Replicates: 200, Model: "survival: reach · detection: row", Quantities: []simulate.Quantity{
		{Kind: "passed", At: "Tidehead", Intervals: 190, Missed: 10, Covered: 150, Given: 190},
		{Kind: "survival", At: "Mill Lade to Alder Ford", Of: "week 1", Intervals: 200, Covered: 191, Given: 200},
		{Kind: "detection", At: "Alder Ford", Impossible: 200},
	}}}
	s.Study.Options.Level = .95
	return s
}

// TestCoverageIsTheSimulations: the points are the shares of the intervals that
// held the truth, a missing interval counted against.
func TestCoverageIsTheSimulations(t *testing.T) {
	f := Coverage(simulated(t))
	g := f.body.(*rows).groups
	require.Len(t, g, 2)
	assert.InDelta(t, 75, g[0].rows[0].Value, 1e-12)
	assert.InDelta(t, 95.5, g[1].rows[0].Value, 1e-12)
	assert.Contains(t, f.Caption, "Of 2 quantities the coverage differs from 95 % by more than chance in 1.")
	assert.Equal(t, 95.0, f.body.(*rows).rules[0].x)
}

// TestPagesHoldAll: a chart too long for a page goes on over several, none of
// them too long, and leaves nothing out.
func TestPagesHoldAll(t *testing.T) {
	for _, size := range [][2]int{{11, 20}, {3, 200}, {1, 150}, {40, 9}} {
		r := &rows{axis: shareAxis("survival", 1), digits: 3}
		for k := range size[0] {
			g := rowGroup{title: "reach " + string(rune('A'+k))}
			for i := range size[1] {
				g.rows = append(g.rows, row{label: "cohort " + string(rune('a'+i%26)) + string(rune('a'+i/26)), key: g.title + string(rune(i)), look: canvas.Series[0],
					Estimate: cjs.Estimate{Value: .5, Low: .4, High: .6, Status: cjs.Estimated}})
			}
			r.groups = append(r.groups, g)
		}
		f := &Figure{ID: "x", Title: "x", body: r}
		keys := map[string]int{}
		for i, p := range f.Pages() {
			s := p.lay(Wide)
			assert.LessOrEqual(t, s.Height, pageHeight*1.03, "%v, page %d", size, i+1)
			for _, o := range s.Ops {
				if o.Kind == canvas.OpMark {
					keys[o.Datum.Key]++
				}
			}
		}
		assert.Len(t, keys, size[0]*size[1], "%v", size)
		for k, n := range keys {
			assert.Equal(t, 1, n, k)
		}
	}
}

// TestStatusesLookDifferent: no two statuses are drawn alike, with a value or
// without, and each that occurs is explained once.
func TestStatusesLookDifferent(t *testing.T) {
	seen := map[string]cjs.Status{}
	for _, status := range []cjs.Status{cjs.Estimated, cjs.Held, cjs.Boundary, cjs.Borrowed, cjs.TooEarly, cjs.Inseparable} {
		e := cjs.Estimate{Value: .5, Low: .3, High: .7, Status: status}
		switch status {
		case cjs.TooEarly:
			e.Value = math.NaN()
		case cjs.Inseparable:
			e.Value, e.Low, e.High = math.NaN(), math.NaN(), math.NaN()
		case cjs.Held:
			e.Low, e.High = math.NaN(), math.NaN()
		}
		r := &rows{axis: shareAxis("x", 1), digits: 3, groups: []rowGroup{{rows: []row{{label: "a", key: "k", Estimate: e, look: canvas.Series[0]}}}}}
		s := (&Figure{body: r}).lay(Wide)
		looks, inside, explained := "", false, 0
		for _, o := range s.Ops {
			switch {
			case o.Kind == canvas.OpMark:
				inside = true
			case o.Kind == canvas.OpEnd:
				inside = false
			case inside:
				looks += string(rune('a'+o.Kind)) + string(o.Path[0].Kind) + string(rune('0'+len(o.Path)))
				for _, d := range o.Dash {
					looks += fmt.Sprint(d)
				}
			case o.Kind == canvas.OpText:
				for _, w := range worth {
					explained += of(w.status == status && o.Text == w.words)
				}
			}
		}
		other, taken := seen[looks]
		assert.False(t, taken, "%s looks like %s", status, other)
		seen[looks] = status
		assert.Equal(t, of(status != cjs.Estimated), explained, "%s: explained so often", status)
	}
}

// TestGaps: between the windows in which a site worked it did not; a site of
// rows is out when all of them are.
func TestGaps(t *testing.T) {
	day := func(d int) time.Time { return time.Unix(int64(d)*86400, 0) }
	window := func(from, to int) study.Window { return study.Window{From: day(from), To: day(to)} }
	assert.Nil(t, gaps(&study.Site{}, 0, 100))
	assert.Equal(t, [][2]float64{{0, 10}, {20, 30}, {40, 100}}, gaps(&study.Site{Working: []study.Window{window(30, 40), window(10, 20)}}, 0, 100))
	assert.Equal(t, [][2]float64{{50, 60}}, gaps(&study.Site{Working: []study.Window{{To: day(50)}, {From: day(60)}}}, 0, 100))
	one, two := study.Row{Working: []study.Window{window(0, 50)}}, study.Row{Working: []study.Window{window(40, 80)}}
	assert.Equal(t, [][2]float64{{80, 100}}, gaps(&study.Site{Rows: []study.Row{one, two}}, 0, 100))
	assert.Nil(t, gaps(&study.Site{Rows: []study.Row{one, {}}}, 0, 100), "a row without windows always works")
}

// TestBarsShowWhatTheyAreWorth: a bar of another status than estimated looks
// otherwise, and not the legend alone.
func TestBarsShowWhatTheyAreWorth(t *testing.T) {
	plot := func(status cjs.Status) string {
		e := func(v, low, high float64, s cjs.Status) cjs.Estimate {
			return cjs.Estimate{Value: v, Low: low, High: high, Status: s}
		}
		none := cjs.NoEstimate(cjs.Absent)
		passed := e(90, 80, 95, status)
		if status == cjs.Inseparable {
			passed.Value = math.NaN()
		}
		a := &along{first: "A", level: "95 %", stops: []stop{{site: "B", seen: e(60, 50, 70, cjs.Estimated), passed: passed, away: none, end: none}}}
		s := drawing{}
		s.Width = Wide
		s.Height = a.draw(&s, Wide)
		var out []string
		for _, op := range s.Ops {
			if op.Kind == canvas.OpText && op.Text == "seen" {
				return strings.Join(out, "\n") // here the legend begins
			}
			if op.Kind != canvas.OpText && op.Kind != canvas.OpMark {
				out = append(out, fmt.Sprint(op.Kind, op.Path, op.Colour, op.Dash))
			}
		}
		t.Fatal("no legend")
		return ""
	}
	looks := map[string]cjs.Status{plot(cjs.Estimated): cjs.Estimated}
	for _, status := range []cjs.Status{cjs.Borrowed, cjs.Boundary, cjs.Held, cjs.Inseparable} {
		look := plot(status)
		other, taken := looks[look]
		assert.False(t, taken, "%s looks like %s", status, other)
		looks[look] = status
	}
}

// TestFifthsOfFewValues: a number of two values is labelled with these, each under its
// fish; a range with its ends.
func TestFifthsOfFewValues(t *testing.T) {
	labels := func(list []wire.Quintile) (out []string) {
		for _, k := range edges(list, "flow").ticks {
			out = append(out, fmt.Sprintf("%s at %g", k.label, k.at))
		}
		return out
	}
	two := []wire.Quintile{{Low: 0, High: 0}, {Low: 1, High: 1}}
	assert.Equal(t, []string{"0.0 at 0.5", "1.0 at 1.5"}, labels(two))
	assert.Equal(t, "1.0", rangeOf(&two[1], two))
	ranges := []wire.Quintile{{Low: 106, High: 154}, {Low: 155, High: 232}}
	assert.Equal(t, []string{"106 at 0", "155 at 1", "232 at 2"}, labels(ranges))
	assert.Equal(t, "106 to 154", rangeOf(&ranges[0], ranges))
	same := []wire.Quintile{{Low: 3, High: 3}}
	assert.Equal(t, []string{"3.0 at 0.5"}, labels(same))
}
