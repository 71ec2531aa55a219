package main

import (
	"fmt"
	"os"
	"strings"
	"testing"
)

// seasonStudy is a record of a study of a season under way (cjs/season).
type seasonStudy struct {
	name, about string
}

var seasonStudies = []seasonStudy{
	{"law", "The law holds: drift 6 km/day, spread 18 km/√day."},
	{"two-speeds", "Three fish in ten migrate at 14 km/day, the others at 6; the model has one rate."},
	{"resting", "Three fish in ten depart late, by 6 days on average (exponential); the model has no delayed departure."},
}

type seasonDay struct {
	Day        int
	Quantity   string
	Truth      float64
	ExpectedSE float64 `json:"expected_se_logit"`
	Point      bool
	Replicates int
	Failed     int
	Mean, SD   float64
	Covered    int
	TooEarly   int     `json:"said_too_early"`
	Plain      float64 `json:"plain_mean"`
}

// seasonLines writes the part of the page on a season under way.
func seasonLines(t *testing.T, b *strings.Builder) {
	b.WriteString(`
### A season under way

3,600 fish released evenly over 40 days; sites 40, 75 and 110 km below; survival .70 .80 .85, detection .30 .40 .50; share that passes Scar Weir by the season's end (truth .56; survival of the reaches is in the records), estimated on five days with the model that has times of passage. *Expected SE* (logit scale, from the expected information at the truth) settles before any replicate whether a day gets a point estimate (below 0.3) or an interval only; each fit decides by its own estimate: *said too early*. Bias and intervals are over all replicates. *Season treated as complete* is the mean of the plain model, assuming every fish not re-detected died or was missed. Limits, for the first study: on days with a point |bias| below 0.1 SD + 3 Monte Carlo standard errors and intervals within the simultaneous 99.9 % band around 95 %; on the others intervals not below it (` + "cjs/season TestSeasonStudy" + `). The other two show what happens when the law does not hold; they have no limits.
`)
	b.WriteString("\n| study | day | expected SE | point | mean | bias/SD | intervals % | said too early % | season treated as complete |\n| --- | --- | --- | --- | --- | --- | --- | --- | --- |\n")
	for _, s := range seasonStudies {
		file := "../../testdata/studies/season-" + s.name + ".json"
		if _, err := os.Stat(file); err != nil {
			t.Fatal(err)
		}
		var r struct {
			Seed int
			All  []seasonDay
		}
		fromJSON(t, file, &r)
		study := fmt.Sprintf("%s %d replicates, seed %d", s.about, r.All[0].Replicates, r.Seed)
		for _, q := range r.All {
			if !strings.HasPrefix(q.Quantity, "passed") {
				continue
			}
			point := "interval only"
			if q.Point {
				point = "yes"
			}
			n := float64(q.Replicates - q.Failed)
			fmt.Fprintf(b, "| %s | %d | %s | %s | %s | %s | %s | %s | %s |\n", study, q.Day, fixed(q.ExpectedSE, 3), point,
				fixed(q.Mean, 3), fixed((q.Mean-q.Truth)/q.SD, 2), fixed(100*float64(q.Covered)/n, 1), fixed(100*float64(q.TooEarly)/n, 1), fixed(q.Plain, 3))
			study = ""
		}
	}
}
