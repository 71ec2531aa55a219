package simulate_test

import (
	"encoding/json"
	"math"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/simulate"
	"example.org/unseen/history"
	"example.org/unseen/history/study"
)

// outageDesign is a study in which some row did not work all the time, as
// declared.
type outageDesign struct {
	name string
	// rows at each site below the first; row labels as they are numbered.
	rows    []int
	cohorts int
	// idle are the days (from the first release) each numbered row stood still,
	// up to infinity for good.
	idle map[int][2]float64
	asOf float64 // day; 0: the season is over
	law  string  // what breaks the law of travel
}

const (
	outageSeed  = 20250414 // fixed before the first run
	outageFish  = 600
	outageFirst = 4 // as many are run again, in designs of few
)

// outageSites: fish let go at noon of each of 15 days; sites 40, 75 and 110 km
// below. Survival is .85 in each reach, detection .6 at each row, 80 test passes
// at each row of the last site.
var outageKm = []float64{0, 40, 75, 110}

func (o *outageDesign) study() *simulate.Study {
	rows := o.rows
	if rows == nil {
		rows = []int{1, 1, 1}
	}
	names := []string{"Mill Lade", "Alder Ford", "Scar Weir", "Tidehead"}
	t := simulate.Truth{}
	for k, km := range outageKm {
		s := history.Site{Name: names[k], Km: km, Days: math.NaN()}
		if k > 0 && rows[k-1] > 1 {
			s.Rows = []string{"upper", "lower"}
		}
		t.River.Sites = append(t.River.Sites, s)
	}
	n := t.River.Rows()
	move := simulate.Movement{Drift: 6, Spread: 9}
	switch o.law {
	case "resting":
		move.Rest, move.RestDays = 0.2, 4
	case "two speeds":
		t.Violations.Second = simulate.Mixture{Share: 0.3, Drift: 12}
	}
	for c := range max(1, o.cohorts) {
		co := simulate.Cohort{Name: []string{"week 1", "week 2", "week 3", "week 4", "week 5"}[c], Fish: outageFish / max(1, o.cohorts), Survival: same(3, .85), Detection: same(n, .6), Movement: move}
		each := 15 / max(1, o.cohorts)
		co.Released = days(15)[c*each : (c+1)*each]
		t.Cohorts = append(t.Cohorts, co)
	}
	for b := t.River.FirstRow(3); b < n; b++ {
		t.TestPasses = append(t.TestPasses, simulate.TestPasses{Row: b, Passes: 80})
	}
	at := func(day float64) time.Time { return firstDay.Add(time.Duration(day * 24 * float64(time.Hour))) }
	t.Working = make([][]study.Window, n)
	for b, idle := range o.idle {
		t.Working[b] = []study.Window{{To: at(idle[0])}}
		if !math.IsInf(idle[1], 1) {
			t.Working[b] = append(t.Working[b], study.Window{From: at(idle[1])})
		}
	}
	if o.asOf > 0 {
		t.AsOf = at(o.asOf)
	}
	spec := model.Spec{Survival: "reach by cohort", Detection: "row", Drift: "same", Spread: "same"}
	return &simulate.Study{Name: "outage: " + o.name, Seed: outageSeed, Truth: t, Spec: spec, Options: cjs.Options{}}
}

var forGood = math.Inf(1)

// outageDesigns: by the law of travel fish come to the three sites on days 14, 20
// and 25 on average, with a standard deviation of 6 to 8 days.
var outageDesigns = []outageDesign{
	{name: "last, a day", idle: map[int][2]float64{2: {24, 25}}},
	{name: "last, eight days", idle: map[int][2]float64{2: {21, 29}}},
	{name: "last, for good", idle: map[int][2]float64{2: {27, forGood}}},
	{name: "first, seven days", idle: map[int][2]float64{0: {9, 16}}},
	{name: "inner, three days", idle: map[int][2]float64{1: {17, 20}}},
	{name: "inner, eight days", idle: map[int][2]float64{1: {15, 23}}},
	{name: "one row of two, last", rows: []int{1, 1, 2}, idle: map[int][2]float64{3: {21, 29}}},
	{name: "one row of two, inner", rows: []int{1, 2, 1}, idle: map[int][2]float64{2: {15, 23}}},
	{name: "last, a share rests", idle: map[int][2]float64{2: {21, 29}}, law: "resting"},
	{name: "last, two speeds", idle: map[int][2]float64{2: {21, 29}}, law: "two speeds"},
	{name: "first and last", idle: map[int][2]float64{0: {9, 16}, 2: {21, 29}}},
	{name: "running", idle: map[int][2]float64{1: {15, 20}}, asOf: 30},
	{name: "last, five cohorts", cohorts: 5, idle: map[int][2]float64{2: {21, 29}}},
}

// outageResult is what the replicates of a design said of the shares that passed.
type outageResult struct {
	Design     string              `json:"design"`
	Replicates int                 `json:"replicates"`
	Failed     map[string]int      `json:"failed"`
	Warned     map[string]int      `json:"warned"`
	Passed     []simulate.Quantity `json:"passed"`
}

type outageRecord struct {
	Seed  int            `json:"seed"`
	Fish  int            `json:"fish"`
	All   []outageResult `json:"all"`
	First []outageResult `json:"first"`
}

const outageFile = "../../testdata/studies/season-outages.json"

func readOutages(t testing.TB) (r outageRecord) {
	t.Helper()
	b, err := os.ReadFile(outageFile)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(b, &r))
	require.Equal(t, outageSeed, r.Seed)
	require.Equal(t, outageFish, r.Fish)
	require.Len(t, r.All, len(outageDesigns))
	return r
}
