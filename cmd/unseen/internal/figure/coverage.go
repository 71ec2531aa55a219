package figure

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/canvas"
	"example.org/unseen/cmd/unseen/internal/view"
)

// Coverage shows in which share of simulated studies the interval of each
// quantity held the truth; nil where none has an interval.
func Coverage(d *analysis.Simulated) *Figure {
	z := distuv.UnitNormal.Quantile(.975)
	nominal := 100 * d.Level()
	t := view.Table{ID: "coverage", Columns: []view.Column{{Name: "kind", Title: "of", Key: true}, {Name: "cohort", Title: "cohort", Key: true}, {Name: "at", Title: "at", Key: true},
		{Name: "replicates", Title: "replicates", Kind: view.Count}, {Name: "coverage_percent", Title: "coverage %", Kind: view.Range, Digits: 1}}}
	r := &rows{digits: 1, rules: []rule{{x: nominal, label: view.Percent(d.Level(), 0), dash: []float64{6, 3}}}}
	r.names = func(s *drawing) []entry {
		return []entry{{view.Percent(d.Level(), 0) + ", the nominal level", func(x, y float64) { s.Segment(x+13, y-2, x+13, y+12, canvas.Wanted, 1.4, r.rules[0].dash...) }}}
	}
	low, off, all := nominal, 0, 0
	for _, kind := range []string{"passed", "passed fish", "survival", "detection"} {
		g := rowGroup{title: capital(kind)}
		for i := range d.Result.Quantities {
			q := &d.Result.Quantities[i]
			if q.Kind != kind || q.Answerable() == 0 {
				continue
			}
			e := percent(cjs.Wilson(q.Covered, q.Answerable(), z))
			x := row{label: strings.TrimSuffix(q.At+", "+q.Of, ", "), key: strings.TrimSpace("coverage " + kind + " " + q.At + " " + q.Of), Estimate: e, look: canvas.Series[0]}
			g.rows = append(g.rows, x)
			t.Rows = append(t.Rows, []view.Cell{view.T(kind), view.T(q.Of), view.T(q.At), view.I(q.Answerable()), view.R(e.Value, e.Low, e.High)})
			low = min(low, e.Low)
			all++
			if nominal < e.Low || nominal > e.High {
				off++
			}
		}
		if len(g.rows) > 0 {
			r.groups = append(r.groups, g)
		}
	}
	if all == 0 {
		return nil
	}
	r.axis = numberAxis("% of the intervals that hold the truth, with 95 % interval of the simulation", math.Floor(low), 100, 5)
	finding := fmt.Sprintf("Of %s the coverage differs from %s by more than chance in %d.", view.Plural(all, "quantity", "quantities"), view.Percent(d.Level(), 0), off)
	return &Figure{
		ID:          "coverage",
		Title:       "Coverage of the intervals",
		Caption:     finding + " A replicate without an interval although its data hold information counts as not covered.",
		Source:      joined(d.Name(), "truth: "+d.Truth, "model "+d.Result.Model, "n = "+view.Plural(d.Result.Replicates, "replicate")),
		Description: "A point with its interval for each quantity, and the line of the nominal level. " + finding,
		Table:       t,
		body:        r,
	}
}
