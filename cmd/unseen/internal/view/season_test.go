package view

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/season"
	"example.org/unseen/history"
)

// replayOf is a replay of days with one reading each of Alder Ford: what was
// said then, as if the season were over, and what it came to.
func replayOf(t *testing.T, days ...[3]cjs.Estimate) replayed {
	d := runningData(t, "", "")
	d.Histories.River.Sites = []history.Site{{Name: "Mill Lade"}, {Name: "Alder Ford"}}
	s := &analysis.Season{Data: d, Level: 0.95}
	fit := func(e cjs.Estimate) *cjs.Fit {
		return &cjs.Fit{Verdict: cjs.Converged, Passed: []cjs.Passed{{Site: 1, Released: 360, PassedShare: e}}}
	}
	for i, x := range days {
		s.Days = append(s.Days, season.Day{AsOf: time.Date(2025, 4, 10+i, 0, 0, 0, 0, d.Study.Location), Running: fit(x[0]), Plain: fit(x[1]), Final: fit(x[2])})
	}
	return replayed{s, "2 Jan"}
}

// The headline of a replay says what was read, or in words that nothing could
// be: never a dash where a number belongs.
func TestSeasonHeadline(t *testing.T) {
	est := func(x, low, high float64) cjs.Estimate {
		return cjs.Estimate{Value: x, Low: low, High: high, Status: cjs.Estimated}
	}
	early := cjs.NoEstimate(cjs.TooEarly)
	none := cjs.NoEstimate(cjs.Inseparable)
	read, over, came := est(.35, .30, .45), est(.20, .15, .25), est(.33, .28, .38)
	for name, c := range map[string]struct {
		days []([3]cjs.Estimate)
		want []string
	}{
		"all too early, the end too": {[][3]cjs.Estimate{{early, over, early}, {early, over, early}},
			[]string{"Nothing can be estimated yet: on no day could the share that would pass any site be estimated. On 2 days it was too early to tell slow fish from dead ones."}},
		"all too early": {[][3]cjs.Estimate{{early, over, came}, {early, over, came}},
			[]string{"On no day could the share that would pass Alder Ford be estimated: on 2 days it was too early to tell slow fish from dead ones."}},
		"one day, too early": {[][3]cjs.Estimate{{early, over, came}},
			[]string{"On 9 April 2025 it was too early to estimate the share that would pass Alder Ford: slow fish could not be told from dead ones yet."}},
		"nothing known": {[][3]cjs.Estimate{{none, none, came}},
			[]string{"The share that passed is not identifiable at any site of this study."}},
		"a day that could not be read is no reading": {[][3]cjs.Estimate{{none, over, came}, {read, over, came}},
			[]string{"On 10 April 2025 the estimate was that 35.0 % (30.0–45.0 %) of the 360 fish released by then would pass Alder Ford; in the end an estimated 33.0 % (28.0–38.0 %) did. Season treated as complete: 20.0 %.",
				"The estimate was 2.0 percentage points from the final estimate; its interval contained it. With the season treated as complete: 13.0 points, and that interval did not contain it."}},
		"with one end known, and nothing as if over": {[][3]cjs.Estimate{{est(.35, math.NaN(), .45), none, came}, {read, over, came}, {early, none, came}},
			[]string{"On 9 April 2025 the estimate was that 35.0 % (up to 45.0 %) of the 360 fish released by then would pass Alder Ford; in the end an estimated 33.0 % (28.0–38.0 %) did.",
				"On the 2 days with an estimate it was on average 2.0 percentage points from the final estimate; its interval contained that on 2. With the season treated as complete, on 1 day: 13.0 points, and on 0. On 1 more day it was too early for an estimate."}},
	} {
		said, site := replayOf(t, c.days...).answer()
		assert.Equal(t, c.want, said, name)
		assert.Positive(t, site, name)
	}
}

// While the season runs there is no end yet, and nothing that did happen.
func TestSeasonHeadlineWhileItRuns(t *testing.T) {
	est := func(x, low, high float64) cjs.Estimate {
		return cjs.Estimate{Value: x, Low: low, High: high, Status: cjs.Estimated}
	}
	v := replayOf(t, [3]cjs.Estimate{est(.35, .30, .45), cjs.NoEstimate(cjs.Inseparable), est(.33, .28, .38)})
	v.Study.AsOf = time.Date(2025, 4, 22, 0, 0, 0, 0, v.Study.Location)
	said, _ := v.answer()
	assert.Equal(t, []string{
		"On 9 April 2025 the estimate was that 35.0 % (30.0–45.0 %) of the 360 fish released by then would pass Alder Ford; by the data to date an estimated 33.0 % (28.0–38.0 %) will.",
		"The estimate was 2.0 percentage points from the estimate to date; its interval contained it."}, said)
	assert.Equal(t, "estimated by the data to date % (95 %)", v.site(1).Columns[4].Title)
	assert.Contains(t, FinalNote(v.Data), "so far")
}
