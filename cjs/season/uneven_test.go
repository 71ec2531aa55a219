package season_test

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/season"
	"example.org/unseen/cjs/simulate"
	"example.org/unseen/history"
)

// uneven is a design of the study of uneven pace.
type uneven struct {
	name            string
	drifts, spreads []float64 // km/day and km/√day by reach
	day             int       // read at the end of it
}

const (
	unevenSeed  = 20250402 // fixed before the first run
	unevenFish  = 1000
	unevenFirst = 50
)

// unevenDesigns: 1,000 fish released at noon of each of 10 days; sites 40, 75 and
// 110 km below; survival .85 in each reach, detection .6 at each site, 80 test
// passes at the last. Speeds are equal, fall or rise down the river, with one
// spread or with three; read about when half of the fish that will come to the
// last site have. Designs, day, number of fish, seed and limits were fixed before
// the first run; how many replicates, by the time there was.
var unevenDesigns = []uneven{
	{"equal", []float64{4, 4, 4}, []float64{8, 8, 8}, 32},
	{"falling", []float64{6, 3.6, 2.4}, []float64{8, 8, 8}, 36},
	{"rising", []float64{2.4, 3.6, 6}, []float64{8, 8, 8}, 36},
	{"equal-spreads-differ", []float64{4, 4, 4}, []float64{5, 8, 11}, 32},
	{"falling-spreads-differ", []float64{6, 3.6, 2.4}, []float64{11, 8, 5}, 36},
	{"rising-spreads-differ", []float64{2.4, 3.6, 6}, []float64{5, 8, 11}, 36},
}

const unevenPassed = .85 * .85 * .85

// unevenInput is the sample of one index as known on the day.
func unevenInput(u uneven, fish int, seed, index uint64) model.Input {
	survival, detection := []float64{.85, .85, .85}, []float64{.6, .6, .6}
	c := simulate.Cohort{Name: "all", Fish: fish, Survival: survival, Detection: detection,
		Movement: simulate.Movement{Drift: u.drifts[0], Spread: u.spreads[0], Drifts: u.drifts, Spreads: u.spreads}}
	for day := range 10 {
		c.Released = append(c.Released, at(float64(day)+0.5))
	}
	t := simulate.Truth{Cohorts: []simulate.Cohort{c}, TestPasses: []simulate.TestPasses{{Row: 2, Passes: 80}}}
	for k, x := range []float64{0, 40, 75, 110} {
		t.River.Sites = append(t.River.Sites, history.Site{Name: []string{"Mill Lade", "Alder Ford", "Scar Weir", "Tidehead"}[k], Km: x, Days: math.NaN()})
	}
	if err := t.Check(); err != nil {
		panic(err)
	}
	sample := t.Draw(seed, index)
	asOf := start.AddDate(0, 0, u.day)
	return model.Input{Histories: season.Known(sample.Histories, asOf), TestPasses: sample.TestPasses, AsOf: asOf}
}

// unevenResult is what the replicates of a design said of the share that will
// have passed Tidehead: with the laws chosen by the test, and with one law.
type unevenResult struct {
	Design     string     `json:"design"`
	Day        int        `json:"day"`
	Truth      float64    `json:"truth"`
	Replicates int        `json:"replicates"`
	Failed     int        `json:"failed"`
	ByReach    int        `json:"law_by_reach"` // how often the test chose so
	TooEarly   int        `json:"said_too_early"`
	Chosen     unevenSide `json:"chosen"`
	OneLaw     unevenSide `json:"one_law"`
}

// unevenSide counts only replicates in which both fits ended; mean and SD are
// of the points, also where they were withheld.
type unevenSide struct {
	Mean    float64 `json:"mean"`
	SD      float64 `json:"sd"`
	Covered int     `json:"covered"`
	Warned  int     `json:"warned"` // that speeds differ
}

type unevenRecord struct {
	Seed  int            `json:"seed"`
	Fish  int            `json:"fish"`
	All   []unevenResult `json:"all"`
	First []unevenResult `json:"first"`
}

var unevenFile = filepath.Join(studyFolder, "season-uneven.json")

func readUneven(t testing.TB) (r unevenRecord) {
	t.Helper()
	b, err := os.ReadFile(unevenFile)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(b, &r))
	require.Equal(t, unevenSeed, r.Seed)
	require.Len(t, r.All, len(unevenDesigns))
	return r
}

// TestUnevenStudy holds the committed study to its limits: with the laws chosen
// by the test the interval covers the truth in 93 to 97.5 %, give or take two
// Monte Carlo standard errors, and the bias of the points is below a tenth of
// their SD and three such errors.
func TestUnevenStudy(t *testing.T) {
	for i, q := range readUneven(t).All {
		require.Equal(t, unevenDesigns[i].name, q.Design)
		assert.Zero(t, q.Failed, q.Design)
		n := float64(q.Replicates)
		c := float64(q.Chosen.Covered) / n
		assert.GreaterOrEqual(t, c, 0.93-2*math.Sqrt(0.93*0.07/n), q.Design)
		assert.LessOrEqual(t, c, 0.975+2*math.Sqrt(0.975*0.025/n), q.Design)
		assert.Less(t, math.Abs(q.Chosen.Mean-q.Truth), 0.1*q.Chosen.SD+3*q.Chosen.SD/math.Sqrt(n), q.Design)
	}
}
