//go:build studies

package plan_test

import (
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/plan"
	"example.org/unseen/cjs/simulate"
)

// TestExpectedAgainstSimulated holds expected standard errors to the spread of
// 2,000 fitted simulations, within 5 %, over a grid of designs of sizes for
// which large-sample figures are meant to hold. 2,000 replicates show a spread
// to 1.6 %, so that 5 % is three of these; the seeds were fixed before the
// first run.
func TestExpectedAgainstSimulated(t *testing.T) {
	removed := single(2500, []float64{0.8, 0.7, 0.85, 0.9}, []float64{0.5, 0.4, 0.6, 0.5})
	removed.Removed = []float64{0, 0.6, 0.3, 0, 0}
	cohorts := tworows()
	cohorts.Cohorts[0].Fish, cohorts.Cohorts[1].Fish = 1500, 2000
	entry := tworows()
	entry.Cohorts[0].Fish, entry.Cohorts[1].Fish = 2000, 1500
	entry.Cohorts[1].Entry = 1
	additive := tworows()
	additive.Cohorts[0].Fish, additive.Cohorts[1].Fish = 1500, 1500
	additive.Spec.Survival, additive.Spec.Detection = "reach + cohort", "site"
	tests := withTests(400)
	tests.Cohorts[0].Fish = 3000
	for i, p := range []*plan.Plan{
		single(2000, []float64{0.8, 0.7, 0.85}, []float64{0.5, 0.4, 0.6}),
		single(4000, []float64{0.6, 0.75, 0.5, 0.8}, []float64{0.25, 0.4, 0.3, 0.5}),
		single(1000, []float64{0.7, 0.6, 0.8}, []float64{0.8, 0.9, 0.7}),
		removed, cohorts, entry, additive, tests,
	} {
		v := verify(t, p, 2000, 20260400+uint64(i))
		assert.Empty(t, v.Failed)
		require.NotEmpty(t, v.Lines)
		for _, l := range v.Lines {
			name := p.Name(&l.Line)
			assert.Equal(t, 2000, l.Given, "design %d: %s", i, name)
			assert.InDelta(t, 1, l.Ratio, 0.05, "design %d: %s: expected %.5f, simulated %.5f", i, name, l.SE, l.SimulatedSE)
			// 95 % ± four Monte Carlo standard errors, and 0.5 points for the
			// size of the samples.
			assert.InDelta(t, 0.95, l.Coverage, 4*math.Sqrt(0.95*0.05/2000)+0.005, "design %d: %s", i, name)
		}
	}
}

var seasonStart = time.Date(2025, 4, 1, 12, 0, 0, 0, time.UTC)

// seasonOfRows: four cohorts of 400 fish, each let go at once, and two rows at the last of
// two sites.
func seasonOfRows() simulate.Truth {
	truth := simulate.Truth{River: river(3)}
	for k, km := range []float64{60, 20, 0} {
		truth.River.Sites[k].Km = km
	}
	truth.River.Sites[2].Rows = []string{"upper", "lower"}
	for i := range 4 {
		c := simulate.Cohort{Name: fmt.Sprint("release ", i+1), Fish: 400, Survival: []float64{0.8, 0.75}, Detection: []float64{0.6, 0.6, 0.5}, Movement: simulate.Movement{Drift: 8, Spread: 8}}
		c.Released = []int64{seasonStart.Add(time.Duration(3*i) * 24 * time.Hour).UnixMilli()}
		truth.Cohorts = append(truth.Cohorts, c)
	}
	return truth
}

// TestOutagesAgainstSimulated holds the standard errors that a plan with outages expects
// to the spread of 200 simulated seasons with the same outages, whose fits know of them:
// all rows of the last site at once, and its rows partly together. 1,600 fish; the
// shares are those of a season ten times as large. 200 replicates show a spread to 5 %,
// and the larger season the values to 1 or 2 %; the limit of 15 % is three of these.
func TestOutagesAgainstSimulated(t *testing.T) {
	const day = 24 * time.Hour
	for name, stops := range map[string][][2]float64{"together": {{9, 14}, {9, 14}}, "partly": {{9, 13}, {11, 15}}} {
		truth := seasonOfRows()
		for row, s := range stops {
			truth.Stop(1+row, seasonStart.Add(time.Duration(s[0]*float64(day))), seasonStart.Add(time.Duration(s[1]*float64(day))))
		}
		checked := 0
		against(t, truth, 200, func(of string, l *plan.Line, q *simulate.Quantity) {
			checked++
			t.Logf("%s: %s: expected %.4f, simulated %.4f of %d", name, of, l.SE, q.SD, q.Given)
			assert.InDelta(t, 1, q.SD/l.SE, 0.15, "%s: %s", name, of)
		})
		assert.GreaterOrEqual(t, checked, 8)
	}
}

// against hands each standard error that a plan with the outages of a season expects
// with the spread of simulated seasons. The plan is that of a season ten times as large.
func against(t *testing.T, truth simulate.Truth, replicates int, compare func(of string, l *plan.Line, q *simulate.Quantity)) {
	spec := model.Spec{Survival: "reach", Detection: "row"}
	large := truth
	large.Cohorts = slices.Clone(truth.Cohorts)
	fish := 0
	for i := range large.Cohorts {
		fish += truth.Cohorts[i].Fish
		large.Cohorts[i].Fish *= 10
	}
	s := large.Draw(202571, 1)
	p, err := plan.FromFitWithOutages(fitted(t, model.Input{Histories: s.Histories, Working: truth.Working}, spec))
	require.NoError(t, err)
	f := forecast(t, p.WithFish(fish))
	study := simulate.Study{Truth: truth, Seed: 202572, Spec: spec}
	study.Options.EstimatesOnly = true
	r, err := study.Run(t.Context(), 1, replicates, nil)
	require.NoError(t, err)
	for i := range r.Quantities {
		q := &r.Quantities[i]
		of := map[string]string{"survival": "survival ", "detection": "detection at ", "passed": "passed at "}[q.Kind] + q.At
		if q.Of != "" {
			of += " of " + q.Of
		}
		for _, l := range f.Lines() {
			if f.Plan.Name(&l) == of {
				compare(of, &l, q)
			}
		}
	}
}

// TestTimesTellMoreThanAPlan: 600 fish let go over five days, and the last site idle, or
// the one above with it. A fit knows when fish were detected above, and so which can have
// passed in the outage; a plan knows shares alone. The standard errors of fits are those
// of 150 simulated seasons within 20 % (which show a spread to 6 %); a plan's are larger,
// of survival with both sites idle by a quarter at least, and never smaller by 20 %.
func TestTimesTellMoreThanAPlan(t *testing.T) {
	const day = 24 * time.Hour
	for name, d := range map[string]struct {
		rows     []int
		from, to float64
		most     float64 // of the spread of survival to Tidehead over what the plan expects
	}{
		"last":  {[]int{1, 2}, 9, 14, 1},
		"inner": {[]int{0, 1, 2}, 5, 10, 0.8},
	} {
		truth := seasonOfRows()
		truth.Cohorts = truth.Cohorts[:1]
		c := &truth.Cohorts[0]
		c.Fish, c.Released = 600, nil
		for k := range 20 {
			c.Released = append(c.Released, seasonStart.Add(time.Duration(k)*day/4).UnixMilli())
		}
		for _, row := range d.rows {
			truth.Stop(row, seasonStart.Add(time.Duration(d.from*float64(day))), seasonStart.Add(time.Duration(d.to*float64(day))))
		}
		checked := false
		against(t, truth, 150, func(of string, l *plan.Line, q *simulate.Quantity) {
			t.Logf("%s: %s: expected %.4f, simulated %.4f, by fits %.4f", name, of, l.SE, q.SD, q.SE)
			assert.InDelta(t, 1, q.SD/q.SE, 0.2, "%s: %s", name, of)
			assert.Less(t, q.SD/l.SE, 1.2, "%s: %s", name, of)
			if of == "survival Alder Ford to Tidehead" {
				checked = true
				assert.Less(t, q.SD/l.SE, d.most, "%s: %s", name, of)
			}
		})
		assert.True(t, checked, name)
	}
}
