package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// found sums up the estimates of a study that are judged.
type found struct {
	designs, least, most int // how many, and the replicates of each
	low, high, bias      float64
}

func newFound() *found { return &found{low: math.Inf(1), high: math.Inf(-1)} }

// design counts one, of so many replicates.
func (f *found) design(replicates int) {
	if f.designs++; f.designs == 1 || replicates < f.least {
		f.least = replicates
	}
	f.most = max(f.most, replicates)
}

// estimate is one that was judged: its coverage, and its bias over its standard
// deviation, NaN where that is not judged.
func (f *found) estimate(coverage, bias float64) {
	f.low, f.high = min(f.low, coverage), max(f.high, coverage)
	if !math.IsNaN(bias) {
		f.bias = max(f.bias, math.Abs(bias))
	}
}

func (f *found) line(b *strings.Builder, study, test string) {
	replicates := fmt.Sprint(f.least)
	if f.most != f.least {
		replicates += "–" + fmt.Sprint(f.most)
	}
	fmt.Fprintf(b, "| %s | %d | %s | %s–%s | %s | %s |\n", study, f.designs, replicates, fixed(100*f.low, 1), fixed(100*f.high, 1), fixed(f.bias, 2), test)
}

// summaryLines sums up every simulation study in a line.
func summaryLines(t *testing.T, b *strings.Builder) {
	records, order := studyRecords(t)
	passed, good, bad := newFound(), newFound(), newFound()
	for _, name := range order {
		r := records[name]
		f, kinds := passed, []string{"passed", "passed fish", "coefficient"}
		if r.Replicates >= 10000 {
			if f, kinds = bad, coverageKinds; adequate(records, r) {
				f = good
			}
		}
		f.design(r.Replicates)
		for _, q := range kept(r, kinds) {
			bias := math.NaN()
			if q.SD > 0 {
				bias = q.Bias / q.SD
			}
			f.estimate(q.Coverage(), bias)
		}
	}
	passed.line(b, "passed %, fish passed, coefficients: logit intervals", "cjs/simulate TestPassedStudies, TestEffectStudies")
	good.line(b, "logit intervals, adequate counts", "cjs/simulate TestCoverageStudies")
	bad.line(b, "logit intervals, counts too small or a truth at 0 or 1", "the same")
	thinSummary(t).line(b, "thin data: default intervals, fits without a warning", "cjs/simulate TestThin")
	for i, s := range seasonStudies {
		var r struct{ All []seasonDay }
		fromJSON(t, "../../testdata/studies/season-"+s.name+".json", &r)
		f := newFound()
		f.design(r.All[0].Replicates)
		for _, q := range r.All {
			if strings.HasPrefix(q.Quantity, "passed") && q.Point {
				f.estimate(float64(q.Covered)/float64(q.Replicates-q.Failed), (q.Mean-q.Truth)/q.SD)
			}
		}
		f.line(b, []string{"season under way, the law of travel holds", "the same, fish of two migration rates", "the same, some depart late"}[i], "cjs/season TestSeasonStudy")
	}
	unevenSummary(t).line(b, "speeds differ between reaches: laws chosen by the test", "cjs/season TestUnevenStudy")
	outageSummary(t, true).line(b, "declared outages, the law of travel holds", "cjs/simulate TestOutageStudy")
	outageSummary(t, false).line(b, "the same, fish rest or have two speeds: covered or warned", "the same")
}

func thinSummary(t *testing.T) *found {
	raw, err := os.ReadFile("../../testdata/studies/thin.json")
	require.NoError(t, err)
	var records []studyRecord
	require.NoError(t, json.Unmarshal(raw, &records))
	f := newFound()
	for _, r := range records {
		f.design(r.All.Replicates)
		for _, q := range r.All.Quantities {
			if n := q.Undoubted.Intervals + q.Missed; n >= 200 {
				f.estimate(float64(q.Undoubted.Covered)/float64(n), q.Bias/q.SD)
			}
		}
	}
	return f
}

func unevenSummary(t *testing.T) *found {
	var r struct {
		All []struct {
			Truth      float64
			Replicates int
			Chosen     struct {
				Mean, SD float64
				Covered  int
			}
		}
	}
	fromJSON(t, "../../testdata/studies/season-uneven.json", &r)
	f := newFound()
	for _, q := range r.All {
		f.design(q.Replicates)
		f.estimate(float64(q.Chosen.Covered)/float64(q.Replicates), (q.Chosen.Mean-q.Truth)/q.Chosen.SD)
	}
	return f
}

// outageSummary is of the designs in which the law of travel holds, or of those in
// which it does not: there covered is what is covered or warned of.
func outageSummary(t *testing.T, holds bool) *found {
	f := newFound()
	for _, q := range outageRecord(t).All {
		if lawless := strings.HasSuffix(q.Design, "rests") || strings.HasSuffix(q.Design, "two speeds"); lawless == holds {
			continue
		}
		f.design(q.Replicates)
		for _, p := range q.Passed {
			covered := p.Covered
			if !holds {
				covered = q.Replicates - p.Silent
			}
			if p.Of == "" {
				f.estimate(float64(covered)/float64(q.Replicates), p.Bias/p.SD)
			}
		}
	}
	return f
}
