package cjs_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/internal/warncheck"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
	"example.org/unseen/history/study"
)

// warningCase is a study that must raise a warning, and a near one that must
// not. Facts are numbers and names the message must hold; its sentences are
// free to change.
type warningCase struct {
	id, about   string
	raise, near func(t *testing.T) *cjs.Fit
	facts       []string
}

// fitting is the fit of counted fish, however it ends.
func fitting(h *history.Histories, in model.Input, spec model.Spec) func(t *testing.T) *cjs.Fit {
	return func(t *testing.T) *cjs.Fit {
		in.Histories = h
		p, err := model.Build(in, spec)
		require.NoError(t, err)
		f, err := cjs.New(t.Context(), p, cjs.Options{})
		require.NoError(t, err)
		return f
	}
}

// plainly is the fit of counts at sites A, B, C … with nothing more to it.
func plainly(sites int, counts map[string]int) func(t *testing.T) *cjs.Fit {
	return fitting(counted(sites, counts), model.Input{}, model.Spec{})
}

// trial is a fit to 100 fish of which 30 passed, all seen, beside 100 fish held
// of which so many kept their tags.
func trial(kept int) func(t *testing.T) *cjs.Fit {
	return func(t *testing.T) *cjs.Fit {
		opt := cjs.Options{}
		opt.Retention.Held, opt.Retention.Kept = 100, kept
		return mustFit(t, model.Input{Histories: counted(2, map[string]int{"11": 30, "10": 70}), Holds: perfect}, model.Spec{}, opt)
	}
}

// dipperFit is a model of the dippers.
func dipperFit(survival, detection string) func(t *testing.T) *cjs.Fit {
	return func(t *testing.T) *cjs.Fit {
		return mustFit(t, dipper(t, "dipper.toml"), model.Spec{Survival: survival, Detection: detection}, cjs.Options{})
	}
}

// spoiled is a sound fit that something is done to.
func spoiled(spoil func(f *cjs.Fit)) func(t *testing.T) *cjs.Fit {
	return func(t *testing.T) *cjs.Fit {
		f := plainly(3, map[string]int{"111": 240, "110": 160, "101": 120, "100": 480})(t)
		require.Equal(t, []string{cjs.WarnInseparable}, idsOf(f))
		spoil(f)
		return f
	}
}

func idsOf(f *cjs.Fit) []string {
	var out []string
	for _, w := range f.Warnings {
		out = append(out, w.ID)
	}
	return out
}

// threeRows is three rows at B and one at C, where 100 fish are never seen.
// Of those seen at C both fish of the first two rows saw a, one of them 12
// each and neither 20; the third row saw half of each, or every one.
func threeRows(a int32, thirdSeesAll bool) *history.Histories {
	h := &history.Histories{Cohorts: []string{"all"}, River: history.River{Sites: []history.Site{{Name: "A"}, {Name: "B", Rows: []string{"1", "2", "3"}}, {Name: "C"}}}}
	add := func(seen uint64, n int32) {
		h.Entry, h.Seen, h.End = append(h.Entry, 0), append(h.Seen, seen), append(h.End, history.Open)
		h.Count, h.Cohort = append(h.Count, n), append(h.Cohort, 0)
	}
	add(0, 100)
	for seen, n := range []int32{20, 12, 12, a} {
		const third, atC = 1 << 2, 1 << 3
		if thirdSeesAll {
			add(uint64(seen)|third|atC, n)
			continue
		}
		add(uint64(seen)|third|atC, n/2)
		add(uint64(seen)|atC, n/2)
	}
	return h
}

// twoCohorts is an early cohort as it should be and a late one of 50 fish of
// which so many, none or some, are seen at all, at four sites.
func twoCohorts(late map[string]int) *history.Histories {
	return cohorts(4, []string{"early", "late"}, []map[string]int{
		{"1111": 120, "1110": 60, "1101": 80, "1100": 140, "1011": 60, "1010": 30, "1001": 40, "1000": 470}, late})
}

// missingSize is 60 fish with a size, of which so many have none.
func missingSize(none int, way string) func(t *testing.T) *cjs.Fit {
	h := &history.Histories{Cohorts: []string{"all"}}
	size := history.Column{Name: "size"}
	for i := range 60 {
		h.Entry, h.Seen = append(h.Entry, 0), append(h.Seen, uint64(i*7%5%2))
		h.End, h.Cohort = append(h.End, history.Open), append(h.Cohort, 0)
		v := float64(i % 6)
		if i < none {
			v = math.NaN()
		}
		size.Value = append(size.Value, v)
	}
	h.River.Sites = []history.Site{{Name: "A"}, {Name: "B"}}
	h.Columns = []history.Column{size}
	return fitting(h, model.Input{Holds: perfect, Missing: way}, model.Spec{Survival: "size"})
}

// partedBySize is 30 fish of sizes 0 to 9, three of each: those of 4 and more
// were seen, the others not, but one of each size near the step the other way.
func partedBySize(wide float64) func(t *testing.T) *cjs.Fit {
	h := &history.Histories{Cohorts: []string{"all"}, River: history.River{Sites: []history.Site{{Name: "A"}, {Name: "B"}}}}
	size := history.Column{Name: "size"}
	for i := range 30 {
		v := i / 3
		seen := v >= 4
		if math.Abs(float64(v)-3.5) < wide && i%3 == 0 {
			seen = !seen
		}
		var mask uint64
		if seen {
			mask = 1
		}
		h.Entry, h.Seen = append(h.Entry, 0), append(h.Seen, mask)
		h.End, h.Cohort = append(h.End, history.Open), append(h.Cohort, 0)
		size.Value = append(size.Value, float64(v))
	}
	h.Columns = []history.Column{size}
	return fitting(h, model.Input{Holds: perfect}, model.Spec{Survival: "size"})
}

// steepBySize is 80 fish of sizes 0 to 9, eight of each: those of 5 and more were
// seen, the others not, but one of each size near the step the other way.
func steepBySize(wide float64) func(t *testing.T) *cjs.Fit {
	h := &history.Histories{Cohorts: []string{"all"}, River: history.River{Sites: []history.Site{{Name: "A"}, {Name: "B"}}}}
	size := history.Column{Name: "size"}
	for i := range 80 {
		v := i / 8
		seen := v >= 5
		if math.Abs(float64(v)-4.5) < wide && i%8 == 0 {
			seen = !seen
		}
		var mask uint64
		if seen {
			mask = 1
		}
		h.Entry, h.Seen = append(h.Entry, 0), append(h.Seen, mask)
		h.End, h.Cohort = append(h.End, history.Open), append(h.Cohort, 0)
		size.Value = append(size.Value, float64(v))
	}
	h.Columns = []history.Column{size}
	return fitting(h, model.Input{Holds: perfect}, model.Spec{Survival: "size"})
}

// passedAlike is 400 early fish of which half were seen and 20 late ones of which
// so many were, with one survival for all and detection perfect.
func passedAlike(late int) func(t *testing.T) *cjs.Fit {
	h := cohorts(2, []string{"early", "late"}, []map[string]int{{"11": 200, "10": 200}, {"11": late, "10": 20 - late}})
	return fitting(h, model.Input{Holds: perfect}, model.Spec{Survival: "same"})
}

// smallSeasonFit is the small season read on a day.
func smallSeasonFit(fish int, asOf float64) func(t *testing.T) *cjs.Fit {
	in := smallSeason(fish, asOf)
	return fitting(in.Histories, in, model.Spec{Survival: "reach"})
}

// releasedLate is the small season read on day 9, with three of the fish never
// seen released on another day instead.
func releasedLate(day float64) func(t *testing.T) *cjs.Fit {
	in := smallSeason(900, 9)
	h := in.Histories
	late := 0
	for i := range h.Seen {
		if h.Seen[i] == 0 && late < 3 {
			h.Released[i] = in.AsOf.UnixMilli() + int64((day-9)*24*3600*1000)
			late++
		}
	}
	return fitting(h, in, model.Spec{Survival: "reach"})
}

// slower is the small season read on day 40 where the way from B to C takes so
// many times as long, with one law of travel.
func slower(times float64, spec model.Spec) func(t *testing.T) *cjs.Fit {
	in := smallSeason(900, 40)
	h := in.Histories
	for i, seen := range h.Seen {
		if at := h.First[2*i : 2*i+2]; seen == 3 {
			at[1] = at[0] + int64(times*float64(at[1]-at[0]))
			if at[1] >= in.AsOf.UnixMilli() {
				h.Seen[i], at[1] = 1, history.NoTime
			}
		}
	}
	spec.Survival = "reach"
	return fitting(h, in, spec)
}

// silent is the small season when it is over, but that C stood still from the
// morning of 7 April to that of the 9th, declared or not.
func silent(declared bool) func(t *testing.T) *cjs.Fit { return silentAt(1, declared) }

// silentAt is that of fish of which every third is so many times as fast.
func silentAt(quick float64, declared bool) func(t *testing.T) *cjs.Fit {
	return idleAtC(900, quick, 9, declared)
}

// inTwoCohorts is silentAt of two cohorts, each with some of the fast fish.
func inTwoCohorts(quick float64) func(t *testing.T) *cjs.Fit {
	return idleAtCOf(900, quick, 9, true, func(h *history.Histories) {
		h.Cohorts, h.CohortColumn = []string{"even", "odd"}, "cohort"
		for i := range h.Cohort {
			h.Cohort[i] = int32(i % 2)
		}
	})
}

// hurry makes every third fish so many times as fast.
func hurry(h *history.Histories, times float64) {
	for i, released := range h.Released {
		for j := range h.First[2*i : 2*i+2] {
			if at := &h.First[2*i+j]; *at != history.NoTime && i%3 == 0 {
				*at = released + int64(float64(*at-released)/times)
			}
		}
	}
}

// quickThird is the small season read on day 40, of fish of which every third is so
// many times as fast.
func quickThird(times float64) func(t *testing.T) *cjs.Fit {
	in := smallSeason(900, 40)
	hurry(in.Histories, times)
	return fitting(in.Histories, in, model.Spec{Survival: "reach"})
}

// idleAtC is the small season of so many fish when it is over, but that C stood
// still from the morning of 7 April to that of another day.
func idleAtC(fish int, quick float64, day int, declared bool) func(t *testing.T) *cjs.Fit {
	return idleAtCOf(fish, quick, day, declared, func(*history.Histories) {})
}

// idleAtCOf is idleAtC with a change of the fish.
func idleAtCOf(fish int, quick float64, day int, declared bool, change func(*history.Histories)) func(t *testing.T) *cjs.Fit {
	in := smallSeason(fish, 60)
	change(in.Histories)
	in.AsOf = time.Time{}
	h := in.Histories
	hurry(h, quick)
	from, to := time.Date(2025, 4, 7, 8, 0, 0, 0, time.UTC), time.Date(2025, 4, day, 8, 0, 0, 0, time.UTC)
	for i := range h.Seen {
		if at := &h.First[2*i+1]; *at != history.NoTime && *at >= from.UnixMilli() && *at < to.UnixMilli() {
			h.Seen[i], *at = h.Seen[i]&^2, history.NoTime
		}
	}
	if declared {
		in.Working = [][]study.Window{nil, {{To: from}, {From: to}}}
	}
	in.Holds = []model.Hold{{Reach: -1, Row: 1, Value: seenC}}
	return fitting(h, in, model.Spec{Survival: "reach"})
}

// warningCases: at least one for each ID.
func warningCases() []warningCase {
	share := func(x, n int) func(t *testing.T) *cjs.Fit {
		return func(t *testing.T) *cjs.Fit {
			h := counted(2, map[string]int{"11": x, "10": n - x})
			return mustFit(t, model.Input{Histories: h, Holds: perfect}, model.Spec{}, cjs.Options{Interval: "logit"})
		}
	}
	again := func(n int) func(t *testing.T) *cjs.Fit {
		return plainly(3, map[string]int{"111": n, "110": 20, "101": 6, "100": 30})
	}
	rows := func(a int32, all bool) func(t *testing.T) *cjs.Fit {
		return fitting(threeRows(a, all), model.Input{}, model.Spec{})
	}
	oneSite := counted(2, map[string]int{"11": 300, "10": 700})
	return []warningCase{
		// A sound program does not end there: a finished fit is spoiled.
		{id: cjs.WarnNotConverged, about: "fit", facts: []string{"0.25"},
			raise: spoiled(func(f *cjs.Fit) { f.Verdict, f.Distance = cjs.NotConverged, 0.25; f.WarnAgain() }),
			near:  spoiled(func(f *cjs.Fit) { f.Distance = 0.00005; f.WarnAgain() })},
		{id: cjs.WarnProfileBeats, about: "fit",
			raise: spoiled(func(f *cjs.Fit) { f.Accuse(f.X) }),
			near:  spoiled(func(f *cjs.Fit) { f.Accuse(nil) })},
		{id: cjs.WarnClosedForm, about: "A to B", facts: []string{"0.600000", "0.600020"},
			raise: spoiled(func(f *cjs.Fit) { f.Survival[0].Raw += 2e-5; f.WarnAgain() }),
			near:  spoiled(func(f *cjs.Fit) { f.Survival[0].Raw += 5e-6; f.WarnAgain() })},
		// Where survival is shared between cohorts that detection tells apart
		// the closed form of all fish is another estimate.
		{id: cjs.WarnClosedForm, about: "A to B", facts: []string{"0.600020"},
			raise: spoiled(func(f *cjs.Fit) { f.Survival[0].Raw += 2e-5; f.WarnAgain() }),
			near: fitting(twoCohorts(map[string]int{"1111": 12, "1110": 18, "1101": 6, "1100": 24, "1011": 30, "1010": 30, "1001": 15, "1000": 60}), model.Input{},
				model.Spec{Survival: "reach", Detection: "site by cohort"})},

		{id: cjs.WarnTooEarly, about: "as_of", facts: []string{"C"}, raise: smallSeasonFit(200, 5), near: smallSeasonFit(900, 9)},
		// The season is over, and C saw the first fish only, or most.
		{id: cjs.WarnTooEarly, about: "working", facts: []string{": B.", "rows did not work"}, raise: idleAtC(200, 1, 30, true), near: idleAtC(900, 1, 9, true)},
		// By default the laws are chosen by the test.
		{id: cjs.WarnSpeeds, about: "travel", facts: []string{"A to B", "B to C", "counted as dead", "too low", "p < 0.001", "Use drift reach and spread reach (--survival reach --detection site --drift reach --spread reach)"},
			raise: slower(1.6, model.Spec{Drift: "same"}), near: slower(0.95, model.Spec{Drift: "same"})},
		{id: cjs.WarnSpeeds, about: "travel", facts: []string{"counted as still on their way", "too high"},
			raise: slower(0.6, model.Spec{Drift: "same"}), near: slower(0.6, model.Spec{})},
		{id: cjs.WarnSpeeds, about: "travel", facts: []string{"too high or too low", "drift reach and spread same"},
			raise: slower(1.6, model.Spec{Drift: "reach"}), near: slower(1.6, model.Spec{Drift: "reach", Spread: "reach"})},
		// Without windows the law of travel tells nothing of a season that is over.
		{id: cjs.WarnOneLaw, about: "travel", facts: []string{"passed C", "too high", "p < 0.001", "such as length; if"},
			raise: silentAt(2.5, true), near: silentAt(2.5, false)},
		// What is advised keeps the model's other terms.
		{id: cjs.WarnOneLaw, about: "travel", facts: []string{`such as length: --survival reach --detection site --drift cohort --spread same; if`},
			raise: inTwoCohorts(2.5), near: silentAt(1, true)},
		{id: cjs.WarnOneLaw, about: "travel", raise: silentAt(1.5, true), near: silentAt(1, true)},
		// While the season runs without windows the test is not made.
		{id: cjs.WarnOneLaw, about: "travel", raise: silentAt(2.5, true), near: quickThird(2.5)},
		{id: cjs.WarnOutage, about: "C", facts: []string{"C detected no fish", "from 2025-04-0", "too low", "working = "},
			raise: silent(false), near: silent(true)},
		{id: cjs.WarnSeveralMaxima, about: "fit", facts: []string{"656.912121", "656.849344"},
			raise: dipperFit("reach + sex", "site"), near: dipperFit("reach + sex", "same")},
		// Of the late fish none is seen, so nothing tells how they fared below B.
		{id: cjs.WarnNotEstimable, about: "data", facts: []string{"survival B to C for cohort late", "8", "6"},
			raise: fitting(twoCohorts(map[string]int{"1000": 50}), model.Input{}, model.Spec{}),
			near:  fitting(twoCohorts(map[string]int{"1000": 20, "1110": 10, "1100": 12, "1001": 8}), model.Input{}, model.Spec{})},
		{id: cjs.WarnInseparable, facts: []string{"A to B", "detection at B"},
			raise: fitting(oneSite, model.Input{}, model.Spec{}),
			near:  fitting(oneSite, model.Input{TestPasses: []model.TestPasses{{Row: 0, Passes: 60, Read: 41}}}, model.Spec{})},
		// All cohorts are not listed.
		{id: cjs.WarnInseparable, facts: []string{"C to D", "for any cohort:"},
			raise: fitting(twoCohorts(map[string]int{"1000": 20, "1110": 10, "1100": 12, "1111": 9, "1101": 7, "1011": 6, "1001": 8}), model.Input{}, model.Spec{}),
			near:  fitting(oneSite, model.Input{TestPasses: []model.TestPasses{{Row: 0, Passes: 60, Read: 41}}}, model.Spec{})},
		{id: cjs.WarnInseparable, about: "model", facts: []string{"8", "7", "flood"},
			raise: dipperFit("reach + flood", "same"), near: dipperFit("flood", "same")},
		{id: cjs.WarnModelAlone, about: "1987", facts: []string{"1986 to 1987", "reach + sex"},
			raise: dipperFit("reach + sex", "site"), near: dipperFit("reach + sex", "site by sex")},
		// Seen and not seen are parted at a size, or some near it are the other
		// way about.
		{id: cjs.WarnSeparated, about: "size", facts: []string{"survival A to B", "12", "size 0 to 3", "18", "size 4 to 9"},
			raise: partedBySize(0), near: partedBySize(3)},
		// Two fish of 80 on the wrong side of a step, or eight.
		{id: cjs.WarnSeparated, about: "size", facts: []string{"survival A to B", "below 0.1", "above 0.9"},
			raise: steepBySize(1), near: steepBySize(4)},
		// A sound search ends; a finished fit is spoiled.
		{id: cjs.WarnLimit, about: "estimates", facts: []string{"detection at B (upper end)"},
			raise: spoiled(func(f *cjs.Fit) { f.Detection[0].Method, f.Detection[0].High = "profile", math.NaN(); f.WarnAgain() }),
			near:  spoiled(func(f *cjs.Fit) { f.Detection[0].Method = "profile"; f.WarnAgain() })},
		// Survival the same for both: the late fish, of whom every one was
		// seen, are said to pass as the early.
		{id: cjs.WarnPassedBelowSeen, about: "passed", facts: []string{"B for cohort late", "100.0"},
			raise: passedAlike(20), near: passedAlike(10)},
		// 30 of 100 passed with their tags, and as many of those held kept theirs,
		// or more.
		{id: cjs.WarnRetention, about: "passed", facts: []string{"29 of 100", "29.0 %", "B (30.0 %)"}, raise: trial(29), near: trial(31)},
		{id: cjs.WarnRetention, about: "passed", facts: []string{"0 of 100"}, raise: trial(0), near: trial(30)},
		// 200 of 150 would have survived; of 250 that is four in five.
		{id: cjs.WarnBoundary, about: "estimates", facts: []string{"A to B", "1.333"},
			raise: plainly(3, map[string]int{"111": 20, "110": 30, "101": 60, "100": 40}),
			near:  plainly(3, map[string]int{"111": 20, "110": 30, "101": 60, "100": 140})},

		// Exact p of 22, 12, 12, 20 is 0.0479 and of 26, 12, 12, 20 it is
		// 0.0156 (testdata/published/scipy/in_tests.py): of two tests it must lie
		// below 0.025, of the only one below 0.05. Rows 2 and 3 are
		// independent, or not tested where row 3 saw all.
		{id: cjs.WarnRows, about: "B/1 and 2", facts: []string{"26", "24", "20", "0.016"}, raise: rows(26, false), near: rows(22, false)},
		{id: cjs.WarnRows, about: "B/1 and 2", facts: []string{"22", "0.048"}, raise: rows(22, true), near: rows(20, true)},
		{id: cjs.WarnRows, about: "B/1 and 2", facts: []string{"0.005"}, raise: rows(30, true), near: rows(20, true)},
		{id: cjs.WarnRows, about: "B/1 and 2", facts: []string{"< 0.001"}, raise: rows(60, true), near: rows(20, true)},
		{id: cjs.WarnRowsUntested, about: "B/2 and 3", facts: []string{"2 and 3", "at B"}, raise: rows(26, true), near: rows(26, false)},

		// Fewer than 5 seen again below B.
		{id: cjs.WarnSparse, about: "data", facts: []string{"B", "4"}, raise: again(4), near: again(5)},
		// n p (1 − p) below 3: 15·(4/15)(11/15) = 2.93, 17·(4/17)(13/17) = 3.06.
		{id: cjs.WarnSparse, about: "estimates", facts: []string{"survival A to B", "passed B", "0.27", fmt.Sprintf("%.2f", math.Sqrt(4*11/15.0)/15)}, raise: share(4, 15), near: share(4, 17)},
		// 11·(6/11)(5/11) = 2.73, 13·(6/13)(7/13) = 3.23.
		{id: cjs.WarnSparse, about: "estimates", facts: []string{"0.55"}, raise: share(6, 11), near: share(6, 13)},

		{id: cjs.WarnDropped, about: "fish", facts: []string{"3 fish"}, raise: missingSize(3, "drop"), near: missingSize(0, "drop")},
		{id: cjs.WarnDropped, about: "fish", facts: []string{"2 missing values"}, raise: missingSize(2, "mean"), near: missingSize(0, "mean")},
		{id: cjs.WarnDropped, about: "as_of", facts: []string{"3 fish"}, raise: releasedLate(9.01), near: releasedLate(8.99)},
	}
}

// TestEveryWarning walks all IDs: each is raised by the study that must and not
// by the near one, and holds the facts.
func TestEveryWarning(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	cases := warningCases()
	for _, id := range cjs.WarningIDs {
		assert.True(t, slices.ContainsFunc(cases, func(c warningCase) bool { return c.id == id }), "%s has no study that raises it", id)
	}
	for _, c := range cases {
		t.Run(c.id+" "+strings.Join(c.facts, " "), func(t *testing.T) {
			require.Contains(t, cjs.WarningIDs, c.id)
			warncheck.Raised(t, cjs.Warning{ID: c.id, About: c.about}, c.raise(t).Warnings, c.near(t).Warnings, c.facts)
		})
	}
}
