package changes

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history"
)

// day is a result of which x passed Tidehead so far and y will have in the end;
// of a season that is over without so far.
func day(x, y float64) *wire.Fit {
	p := passed("Tidehead", estimate(y, 2))
	f := &wire.Fit{}
	if !math.IsNaN(x) {
		p.SoFar = estimate(x, 1)
		f.SeasonOver = &wire.SeasonOver{}
	}
	f.Passed = []wire.Passed{p}
	return f
}

// What had passed and what was expected in the end are told apart, and neither
// is taken for the other when the season ends in between.
func TestMidSeason(t *testing.T) {
	over := math.NaN()
	lost := day(25, over)
	for _, c := range []struct {
		before, now *wire.Fit
		want        []string
	}{
		{day(20, 37.9), day(25, 41), []string{
			"25.0 % had passed Tidehead so far; the earlier result said 20.0 %, a shift of +5.0 of its standard errors.",
			"41.0 % are expected to have passed Tidehead by the season's end; the earlier result expected 37.9 %, a shift of +1.6 of its standard errors."}},
		{day(20, 37.9), day(25, 37.9), []string{
			"25.0 % had passed Tidehead so far; the earlier result said 20.0 %, a shift of +5.0 of its standard errors.",
			"37.9 % are expected to have passed Tidehead by the season's end, as in the earlier result."}},
		{day(20, 37.9), lost, []string{
			"25.0 % had passed Tidehead so far; the earlier result said 20.0 %, a shift of +5.0 of its standard errors.",
			"37.9 % were expected in the earlier result to have passed Tidehead by the season's end; now that cannot be said."}},
		{day(20, 37.9), day(over, 41), []string{"41.0 % passed Tidehead; the earlier result expected 37.9 %."}},
		{day(over, 41), day(20, 37.9), []string{
			"20.0 % had passed Tidehead so far; the earlier result could not say.",
			"37.9 % are expected to have passed Tidehead by the season's end; the earlier result said 41.0 %."}},
		{lost, day(over, 41), []string{"41.0 % passed Tidehead; the earlier result could not say."}},
	} {
		r := Between(wire.Head{}, "old.json", c.before, c.now)
		said := r.Page("", "").Sections[0].Paragraphs
		assert.Equal(t, c.want, said[:len(said)-1])
		assert.NotContains(t, said[len(said)-1], "Nothing has changed")
	}
	r := Between(wire.Head{}, "old.json", day(20, 37.9), day(25, 37.9))
	require.Len(t, r.number("passed so far %"), 1)
	assert.Equal(t, wire.Number(5), r.number("passed so far %")[0].Shift)
	assert.Contains(t, Between(wire.Head{}, "old.json", day(20, 37.9), day(20, 37.9)).Page("", "").Sections[0].Paragraphs, "Nothing has changed: the same files, the same model, the same numbers.")
}

// A trial of tags that ended otherwise is a change, though passed % is the same,
// and the number it moves is told.
func TestRetentionIsCompared(t *testing.T) {
	nan := math.NaN()
	before, now := day(nan, 40), day(nan, 40)
	before.Retention, now.Retention = &wire.Retention{Held: 500, Kept: 492}, &wire.Retention{Held: 500, Kept: 400}
	before.Passed[0].WithRetention, now.Passed[0].WithRetention = estimate(40.7, 2), estimate(50, 2.2)
	r := Between(wire.Head{}, "old.json", before, now)
	assert.Equal(t, []Word{{"tag retention", "492 of 500 kept", "400 of 500 kept"}}, r.Model)
	said := r.Page("", "").Sections[0].Paragraphs
	assert.Equal(t, "What differs: tag retention.", said[len(said)-1])
	moved := r.number("passed % had no tag been lost")
	require.Len(t, moved, 1)
	assert.InDelta(t, 9.3, float64(moved[0].Shift), 1e-9, "one subtraction")
	// An earlier version told neither the trial nor the study file: the number it
	// moved still counts.
	before.Retention, before.Inputs = nil, []history.Input{{File: "fish.csv"}}
	now.Inputs = []history.Input{{File: "study.toml"}, {File: "fish.csv"}}
	r = Between(wire.Head{}, "old.json", before, now)
	assert.Empty(t, r.Model)
	said = r.Page("", "").Sections[0].Paragraphs
	assert.Equal(t, "The tables that were read and the model are the same: the study file itself differs, which the earlier result does not name.", said[len(said)-1])
}
