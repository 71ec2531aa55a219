package desk

import (
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestFiguresToTakeAreThoseOfTheReport: every figure of the report can be had by
// itself, and no other is offered.
func TestFiguresToTakeAreThoseOfTheReport(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	d := open(t, hollin(t))
	of := func(path, pattern string) []string {
		var out []string
		for _, m := range regexp.MustCompile(pattern).FindAllStringSubmatch(get(t, d, path), -1) {
			out = append(out, m[1])
		}
		return out
	}
	const model = "?survival=reach+%2B+fork_length_mm&detection=row"
	reported := of("/get/report.html"+model, `<figure id="figure-([^"]+)"`)
	assert.Subset(t, reported, []string{"passage", "passed-by-model", "observed-and-expected", "fifths-of-fork-length-mm", "arrivals"})
	assert.ElementsMatch(t, reported, of("/take"+model, `get/figure/([a-z0-9-]+)\.svg`))
	for _, id := range reported {
		assert.Contains(t, get(t, d, "/get/figure/"+id+".svg"+model), "</svg>", id)
	}
	// Those of whether the model fits stand on the page too.
	for range 2 { // the second time as kept
		assert.Equal(t, []string{"observed-and-expected", "fifths-of-fork-length-mm"}, of("/trust"+model, `<figure id="figure-([^"]+)"`))
	}
}
