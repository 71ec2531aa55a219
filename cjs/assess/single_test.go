package assess_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/assess"
	"example.org/unseen/history"
)

// The summary speaks of one check or table that is off where the total is not:
// with allowance for their number (p times it below 0.05), or else as little.
func TestOneCheckOffIsSaid(t *testing.T) {
	river := &history.River{Sites: []history.Site{{Name: "Mill Lade"}, {Name: "Alder Ford"}}}
	result := func(check float64, checks int, table float64, tables int) *assess.Result {
		r := &assess.Result{River: river, Total: assess.Sum{Statistic: 20, DF: 16, P: 0.22}, Classes: make([]assess.ClassSum, 1)}
		for i := range checks {
			c := assess.Component{Name: "fish are alike", Sum: assess.Sum{Statistic: 1, DF: 2, P: 0.6}}
			if i == 1 {
				c.Name, c.P = "fish pass alike", check
			}
			r.Components = append(r.Components, c)
		}
		for i := range tables {
			x := assess.Table{Check: assess.RowsIndependent, Site: 1, Lines: []string{"seen at upper", "missed at upper"}, Columns: []string{"seen at lower", "missed at lower"},
				Counts: [][]int{{10, 10}, {10, 10}}, Pooled: []int{0, 1}, Counted: true, P: 0.5}
			if i == 2 {
				x.P, x.Of = table, []cjs.Category{{Name: "cohort", Level: "early"}}
			}
			r.Components[0].Tables = append(r.Components[0].Tables, i)
			r.Tables = append(r.Tables, x)
		}
		return r
	}
	for _, c := range []struct {
		r      *assess.Result
		begins string
		has    string
	}{
		// 5 × 0.009 = 0.045, 7 × 0.009 = 0.063.
		{result(0.009, 5, 0.3, 15), "Evidence of lack of fit", "the check on whether fish pass alike has p = 0.009 (p = 0.04 when allowing for 5 checks)"},
		{result(0.009, 7, 0.3, 15), "Little evidence of lack of fit", "On its own, the check on whether fish pass alike has p = 0.009 (p = 0.06 when allowing for 7 checks)"},
		{result(0.06, 5, 0.3, 15), "No evidence of lack of fit", ""},
		// 15 × 0.002 = 0.03, 30 × 0.002 = 0.06, and of 15 tables 0.02 is no surprise.
		{result(0.6, 5, 0.002, 15), "Evidence of lack of fit", "the table on whether fish are alike, at Alder Ford (cohort early), has p = 0.002 (p = 0.03 when allowing for 15 tables)"},
		{result(0.6, 5, 0.002, 30), "Little evidence of lack of fit", "the table on whether fish are alike, at Alder Ford (cohort early), has p = 0.002 (p = 0.06 when allowing for 30 tables)"},
		{result(0.6, 5, 0.02, 15), "No evidence of lack of fit", ""},
		{result(0.001, 1, 0.6, 1), "No evidence of lack of fit", ""}, // the check that is off is not there
	} {
		got := c.r.Words()[0]
		assert.True(t, strings.HasPrefix(got, c.begins), "%s: %s", c.begins, got)
		assert.Contains(t, got, c.has)
		assert.Contains(t, got, "chi-square 20.00 on 16 df, p = 0.22", "the total is said in any case")
		assert.Equal(t, c.begins == "Evidence of lack of fit", len(c.r.Warnings()) > 0, "a warning where it is more than chance")
	}
}
