package simulate_test

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
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
	{name: "two inner at once", idle: map[int][2]float64{0: {13, 19}, 1: {13, 19}}},
	{name: "inner, five cohorts", cohorts: 5, idle: map[int][2]float64{1: {15, 23}}},
	{name: "none"}, // the same fish, by their counts alone
	{name: "none, five cohorts", cohorts: 5},
}

// outageResult is what the replicates of a design said of the shares that passed.
type outageResult struct {
	Design     string         `json:"design"`
	Replicates int            `json:"replicates"`
	Failed     map[string]int `json:"failed"`
	Warned     map[string]int `json:"warned"`
	Passed     []outagePassed `json:"passed"`
}

// outagePassed is what was said of the share that passed a site, of all fish or
// one cohort, with the names of [simulate.Quantity]; Silent counts intervals
// without the truth in fits with no warning about this share.
type outagePassed struct {
	Of        string  `json:"of,omitempty"`
	At        string  `json:"at"`
	Given     int     `json:"given"`
	Intervals int     `json:"intervals"`
	Truth     float64 `json:"truth"`
	Bias      float64 `json:"bias"`
	SD        float64 `json:"sd"`
	Covered   int     `json:"covered"`
	Low       int     `json:"low"`
	High      int     `json:"high"`
	Width     float64 `json:"width"`
	Silent    int     `json:"silent"`
}

// outageRecord holds the designs in their order; First their first replicates.
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
