package analysis

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
	"example.org/unseen/history/ingest"
)

// An outage is of all rows of a site or of one, in the zone of the site, and its
// ends are read as those of working windows are.
func TestOutageOf(t *testing.T) {
	dublin, err := time.LoadLocation("Europe/Dublin")
	require.NoError(t, err)
	river := history.River{Sites: []history.Site{{Name: "Mill Lade"}, {Name: "Alder Ford", Rows: []string{"upper", "lower"}}, {Name: "Scar Weir"}, {Name: "Tidehead"}}}
	zone := func(site int) *time.Location {
		if site == 3 {
			return time.UTC
		}
		return dublin
	}
	for _, c := range []struct {
		words    string
		rows     []int
		from, to string
	}{
		{"Tidehead 2025-04-22 to 2025-04-28", []int{3}, "2025-04-22T00:00:00Z", "2025-04-28T00:00:00Z"},
		{"Scar Weir 2025-04-22 to 2025-04-28", []int{2}, "2025-04-21T23:00:00Z", "2025-04-27T23:00:00Z"},
		{" Alder Ford  2025-04-22T14:00  to  2025-04-22 15:30 ", []int{0, 1}, "2025-04-22T13:00:00Z", "2025-04-22T14:30:00Z"},
		{"Alder Ford/lower 2025-04-22 14:00 to 2025-04-23T02:00:00+02:00", []int{1}, "2025-04-22T13:00:00Z", "2025-04-23T00:00:00Z"},
	} {
		o, err := outageOf(c.words, &river, zone)
		require.NoError(t, err, c.words)
		assert.Equal(t, c.rows, o.Rows, c.words)
		assert.Equal(t, c.from, o.From.UTC().Format(time.RFC3339), c.words)
		assert.Equal(t, c.to, o.To.UTC().Format(time.RFC3339), c.words)
	}
	for words, why := range map[string]string{
		"":                                       "is no outage",
		"Tidehead":                               "SITE FROM to TO",
		"Tidehead 2025-04-22":                    "SITE FROM to TO",
		"Tidehead 22 April to 28 April":          "SITE FROM to TO",
		"Tidehead 2025-04-31 to 2025-05-02":      "is no time",
		"Tidehead 2025-04-22 to 2025-04-22":      "ends before it starts",
		"Tidehead 2025-04-28 to 2025-04-22":      "ends before it starts",
		"Nowhere 2025-04-22 to 2025-04-28":       `no site or row "Nowhere" below the first; there are: Alder Ford, Alder Ford/upper, Alder Ford/lower, Scar Weir, Tidehead`,
		"Mill Lade 2025-04-22 to 2025-04-28":     `no site or row "Mill Lade" below the first`,
		"Tidehead/upper 2025-04-22 to 2025-4-28": `no site or row "Tidehead/upper"`,
	} {
		_, err := outageOf(words, &river, zone)
		assert.Equal(t, Unclear, refusal(t, err).ID, words)
		assert.ErrorContains(t, err, why, words)
	}
}

// With an outage the truth is what it was, with times: the likelihood of a season
// long over is that of the counts times that of the travel times, and each has its
// parameters for itself. The two climbs stop within 1e-5 of the same maximum.
func TestOutageLeavesTheTruth(t *testing.T) {
	d, err := Open(t.Context(), "../../cmd/unseen/internal/demo/files/study.toml", ingest.Options{})
	require.NoError(t, err)
	spec := model.Spec{Survival: "reach + cohort", Detection: "row"}
	var opt Options
	opt.EstimatesOnly = true
	plain, err := d.Simulation(t.Context(), spec, opt, Simulating{})
	require.NoError(t, err)
	assert.Nil(t, plain.Study.Truth.Working)
	x, err := d.Simulation(t.Context(), spec, opt, Simulating{Outages: []string{"Tidehead 2025-04-22 to 2025-04-28", "Alder Ford/lower 2025-04-10 to 2025-04-11", "Tidehead 2025-05-01 to 2025-05-02"}})
	require.NoError(t, err)
	a, b := &plain.Study.Truth, &x.Study.Truth
	require.Len(t, b.Cohorts, len(a.Cohorts))
	for i := range a.Cohorts {
		assert.InDeltaSlice(t, a.Cohorts[i].Survival[:2], b.Cohorts[i].Survival[:2], 1e-5)
		assert.InDeltaSlice(t, a.Cohorts[i].Detection[:3], b.Cohorts[i].Detection[:3], 1e-5)
		assert.Equal(t, a.Cohorts[i].Fish, b.Cohorts[i].Fish)
		assert.Len(t, b.Cohorts[i].Released, b.Cohorts[i].Fish)
		assert.Greater(t, b.Cohorts[i].Movement.Drift, 1.0)
	}
	assert.True(t, b.AsOf.IsZero())
	require.Len(t, b.Working, 4)
	assert.Nil(t, b.Working[0])
	assert.Len(t, b.Working[1], 2)
	assert.Len(t, b.Working[3], 3)
}
