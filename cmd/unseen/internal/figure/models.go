package figure

import (
	"fmt"
	"math"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/compare"
	"example.org/unseen/cmd/unseen/internal/canvas"
	"example.org/unseen/cmd/unseen/internal/view"
)

// Forest shows what passed under each model compared, with their weights and
// the average; nil where no model gives a value that all fish have.
func Forest(d *analysis.Data, r *compare.Result) *Figure {
	site := -1
	level := .95
	for _, v := range r.Variants {
		if !v.Ranked() {
			continue
		}
		level = v.Fit.Options.Level
		// The site farthest down that the best model can speak of by itself.
		for _, p := range v.Fit.Passed {
			if len(p.Of) == 0 && !math.IsNaN(p.PassedShare.Value) && p.PassedShare.Status != cjs.Borrowed {
				site = p.Site
			}
		}
		break
	}
	if site < 0 {
		return nil
	}
	of := func(list []cjs.Passed) (cjs.Estimate, bool) {
		for _, p := range list {
			if len(p.Of) == 0 && p.Site == site {
				return percent(p.PassedShare), true
			}
		}
		return cjs.Estimate{}, false
	}
	name := d.Histories.River.Sites[site].Name
	body := &rows{digits: 1, groups: []rowGroup{{}}}
	low, high := math.Inf(1), math.Inf(-1)
	t := view.Table{ID: "passed_by_model", Columns: []view.Column{{Name: "model", Title: "model", Key: true}, {Name: "weight", Title: "weight", Kind: view.Number, Digits: 3},
		{Name: "passed_percent", Title: "passed " + name + " %", Kind: view.Range, Digits: 1}, {Name: "status"}}}
	add := func(label string, weight float64, e cjs.Estimate, strong bool) {
		key := "passed " + name + " model " + label
		t.Rows = append(t.Rows, []view.Cell{view.T(label), view.N(weight), view.R(e.Value, e.Low, e.High), view.T(string(e.Status))})
		if !math.IsNaN(weight) {
			label += " · weight " + view.Digits(weight, 2)
		}
		body.groups[0].rows = append(body.groups[0].rows, row{label: label, key: key, Estimate: e, look: canvas.Series[0], strong: strong})
		for _, x := range []float64{e.Value, e.Low, e.High} {
			if !math.IsNaN(x) {
				low, high = min(low, x), max(high, x)
			}
		}
	}
	n := 0
	var span [2]float64
	for _, v := range r.Variants {
		if !v.Ranked() {
			continue
		}
		if e, ok := of(v.Fit.Passed); ok {
			add(v.Name(), v.Weight, e, false)
			if n == 0 {
				span = [2]float64{e.Value, e.Value}
			}
			span[0], span[1] = min(span[0], e.Value), max(span[1], e.Value)
			n++
		}
	}
	if r.Averaged != nil {
		if e, ok := of(r.Averaged.Passed); ok {
			add("averaged over the models", math.NaN(), e, true)
		}
	}
	if n < 2 {
		return nil
	}
	body.axis = numberAxis(fmt.Sprintf("%% that passed %s, with %s interval", name, view.Percent(level, 0)), max(0, low), min(100, high), 6)
	end := ""
	if d.Running() {
		end = " by the season's end"
	}
	finding := fmt.Sprintf("Over %s, what passed %s"+end+" goes from %s to %s %%.", view.Plural(n, "model"), name, view.Digits(span[0], 1), view.Digits(span[1], 1))
	return &Figure{
		ID:          "passed-by-model",
		Title:       "Passed " + name + end + ", by model",
		Caption:     finding + " Best first; the weight is that of Akaike.",
		Source:      dataSource(d),
		Description: "A point with its interval for each model, and for their average. " + finding,
		Table:       t,
		body:        body,
	}
}
