package view_test

import (
	"io"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cmd/unseen/internal/tablefile"
	"example.org/unseen/cmd/unseen/internal/text"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/history"
)

func river() *history.River {
	nan := math.NaN()
	return &history.River{Sites: []history.Site{
		{Name: "Mill Lade", Km: nan}, {Name: "Alder Ford", Km: nan, Rows: []string{"upper", "lower"}}, {Name: "Tidehead", Km: nan}}}
}

func est(x float64, s cjs.Status) cjs.Estimate {
	return cjs.Estimate{Value: x, SE: x / 50, Low: x * .9, High: x * 1.05, Status: s, Method: "logit"}
}

func screen(t *testing.T, tables []view.Table) string {
	t.Helper()
	var b strings.Builder
	require.NoError(t, text.Write(&b, view.Page{Sections: []view.Section{{Tables: tables}}}))
	return b.String()
}

// toOne takes one table as CSV.
type toOne struct{ w io.Writer }

func (f toOne) Begin(_ string, columns []string) (tablefile.Rows, error) {
	return tablefile.CSVRows(f.w, columns, false)
}

func whole(t *testing.T, tables []view.Table) string {
	t.Helper()
	var b strings.Builder
	n := 0
	for _, x := range tables {
		if x.ID != "" {
			n++
			require.NoError(t, tablefile.Add(toOne{&b}, view.Page{Sections: []view.Section{{Tables: []view.Table{x}}}}))
		}
	}
	require.Equal(t, 1, n, "one CSV file a table")
	return b.String()
}

func TestPassedTables(t *testing.T) {
	early := []cjs.Category{{Name: "cohort", Level: "early"}}
	none := cjs.NoEstimate(cjs.Inseparable)
	tables := view.PassedTables(river(), []cjs.Passed{
		{Site: 1, Released: 1800, Seen: 900, SeenShare: est(.5, cjs.Estimated), Detection: est(.7, cjs.Estimated), PassedShare: est(.714, cjs.Estimated), PassedFish: est(1286, cjs.Estimated), PassedFishShare: est(.71444, cjs.Estimated), WithRetention: none, BetweenCohorts: math.NaN()},
		{Site: 2, Released: 1800, Seen: 300, SeenShare: est(.1667, cjs.Estimated), Detection: none, PassedShare: none, PassedFish: none, PassedFishShare: none, WithRetention: none, BetweenCohorts: math.NaN()},
		{Of: early, Site: 1, Released: 900, Seen: 500, SeenShare: est(.5556, cjs.Estimated), Detection: est(.7, cjs.Borrowed), PassedShare: est(.9, cjs.Estimated), PassedFish: est(810, cjs.Estimated), PassedFishShare: est(.9, cjs.Estimated), WithRetention: none, BetweenCohorts: math.NaN()},
		{Of: early, Site: 2, Released: 900, Seen: 200, SeenShare: est(.2222, cjs.Estimated), Detection: none, PassedShare: none, PassedFish: none, PassedFishShare: none, WithRetention: none, BetweenCohorts: math.NaN()},
	}, .95)
	assert.Equal(t, `All fish
site          passed % (95 %)    fish passed (95 %)  released  seen  seen %  detection %
──────────  ─────────────────  ────────────────────  ────────  ────  ──────  ───────────
Alder Ford  71.4  (64.3–75.0)  1,286  (1,157–1,350)     1,800   900    50.0        70.0
Tidehead       –*                  –*                   1,800   300    16.7           –*
  * not separately estimable from these data (not identifiable)

By cohort
                                          fish passed
cohort  site          passed % (95 %)          (95 %)  released  seen  seen %  detection %
──────  ──────────  ─────────────────  ──────────────  ────────  ────  ──────  ───────────
early   Alder Ford  90.0  (81.0–94.5)  810  (729–850)       900   500    55.6        70.0‡
        Tidehead       –*                –*                 900   200    22.2           –*
  * not separately estimable from these data (not identifiable)
  ‡ borrowed: identified only through parameters that the model shares with other sites and reaches
`, screen(t, tables))
	csv := strings.Split(whole(t, tables), "\n")
	assert.Equal(t, "cohort,site,released,removed_above,seen,seen_percent,seen_percent_low,seen_percent_high,"+
		"detection_percent,detection_percent_low,detection_percent_high,passed_percent,passed_percent_low,passed_percent_high,"+
		"passed_percent_se,passed_percent_with_retention,passed_percent_with_retention_low,passed_percent_with_retention_high,"+
		"between_cohorts_sd_percent,passed_fish,passed_fish_low,passed_fish_high,"+
		"passed_fish_percent,passed_fish_percent_low,passed_fish_percent_high,status,method,too_early_for", csv[0])
	assert.Equal(t, "early,Tidehead,900,0,200,22.220000000000002,19.998,23.331000000000003,,,,,,,,,,,,,,,,,,inseparable,,", csv[4])
}

// Where fish were removed the heading says what passed % is of, and the table
// of a running season too; the realised share goes to programs.
func TestHeadingsOfTwoEstimands(t *testing.T) {
	none := cjs.NoEstimate(cjs.Absent)
	row := cjs.Passed{Site: 1, Released: 1800, Removed: 240, Seen: 900, SeenShare: est(.5, cjs.Estimated), Detection: est(.7, cjs.Estimated), PassedShare: est(.714, cjs.Estimated),
		PassedFish: est(1116, cjs.Estimated), PassedFishShare: est(.62, cjs.Estimated), SoFar: none, StillToPass: none, WithRetention: none, BetweenCohorts: math.NaN()}
	tables := view.PassedTables(river(), []cjs.Passed{row}, .95)
	assert.Equal(t, `                passed % had
                   none been                                 removed
site          removed (95 %)   fish passed (95 %)  released    above  seen  seen %  detection %
──────────  ────────────────  ───────────────────  ────────  ───────  ────  ──────  ───────────
Alder Ford  71.4 (64.3–75.0)  1,116 (1,004–1,172)     1,800      240   900    50.0         70.0
`, screen(t, tables))
	assert.Contains(t, whole(t, tables), ",1116,1004.4,1171.8,62,55.800000000000004,65.10000000000001,")
	row.SoFar, row.StillToPass = est(.5, cjs.Estimated), est(.214, cjs.Estimated)
	running := screen(t, view.PassedTables(river(), []cjs.Passed{row}, .95))
	assert.Equal(t, 2, strings.Count(running, "had none"), running)
	row.Removed = 0
	running = screen(t, view.PassedTables(river(), []cjs.Passed{row}, .95))
	assert.NotContains(t, running, "had none")
}

func TestSurvivalTables(t *testing.T) {
	above := cjs.Survival{From: 1, Estimate: est(1, cjs.Boundary), Raw: 1.041}
	plain := cjs.Survival{From: 0, Estimate: est(.8, cjs.Estimated), Raw: .8}
	tables := view.SurvivalTables(river(), []cjs.Survival{plain, above}, .9)
	assert.Equal(t, `                                               standard  closed
reach                         survival (90 %)     error    form
───────────────────────  ────────────────────  ────────  ──────
Mill Lade to Alder Ford  0.800  (0.720–0.840)     0.016   0.800
Alder Ford to Tidehead   1.000† (0.900–1.050)     0.020   1.041
  † on the boundary (0 or 1): there is no standard error; the interval is by profile likelihood
  closed form: unpooled closed-form (Seber) estimate, without the model; it may exceed 1
`, screen(t, tables))
	assert.NotContains(t, screen(t, view.SurvivalTables(river(), []cjs.Survival{plain}, .9)), "closed form",
		"a closed form that says the same is left out")
}

func TestDetectionTables(t *testing.T) {
	tables := view.DetectionTables(river(), []cjs.Detection{
		{Site: 1, Row: 0, Estimate: est(.46, cjs.Estimated)}, {Site: 1, Row: 1, Estimate: est(.52, cjs.Estimated)},
		{Site: 1, Row: -1, Estimate: est(.74, cjs.Estimated)}, {Site: 2, Row: -1, Estimate: est(.7, cjs.Held), At: []cjs.Covariate{{Name: "flow", Value: 12.5}}},
	}, .95)
	assert.Equal(t, "Alder Ford,upper,,0.46,0.41400000000000003,0.48300000000000004,0.0092,estimated,logit", strings.Split(whole(t, tables), "\n")[1])
	got := screen(t, tables)
	assert.Contains(t, got, "whole site")
	assert.Contains(t, got, "flow = 12.5")
	assert.Contains(t, got, "0.700§")
}

func TestAccountingLine(t *testing.T) {
	a := &history.Accounting{Read: 5370, Kept: 1900, Repeats: 3300, SetAside: []history.Box{
		{Name: "unreadable record", Records: 3}, {Name: "bad tag", Records: 6}, {Name: "unknown tag", Records: 55},
		{Name: "before release", Records: 17}, {Name: "test tag", Records: 60}, {Name: "unknown site", Records: 29}}}
	assert.Equal(t, "5,370 records read = 1,900 passages kept + 3,300 repeats + 170 set aside "+
		"(60 test tag, 55 unknown tag, 29 unknown site, 26 for other reasons; see `unseen check`).", view.AccountingLine(a))
	assert.Equal(t, "1 record read = 1 passage kept + 0 repeats.", view.AccountingLine(&history.Accounting{Read: 1, Kept: 1}))
}

func TestHistoriesTables(t *testing.T) {
	h := &history.Histories{
		River: *river(), Tag: []string{"a", "b"}, Entry: []uint8{0, 1}, Seen: []uint64{1 | 2, 4}, End: []history.End{history.Removed, history.Open},
		Cohort: []int32{0, 1}, Cohorts: []string{"early", "late"}, CohortColumn: "batch",
		Columns: []history.Column{{Name: "length", Value: []float64{150, math.NaN()}}, {Name: "sex", Levels: []string{"f"}, Level: []int32{-1, 0}}},
	}
	assert.Equal(t, "fish,batch,length,sex,Mill Lade,Alder Ford/upper,Alder Ford/lower,Tidehead,removed,noticed\n"+
		"a,early,150,,1,1,1,0,Alder Ford,\nb,late,,f,0,1,1,1,,turned back; parked\n", whole(t, []view.Table{view.HistoriesTable(h, []history.Flag{0, history.Parked | history.TurnedBack})}))
	assert.Equal(t, "batch,Mill Lade,Alder Ford/upper,Alder Ford/lower,Tidehead,removed,count\n"+
		"early,1,1,1,0,Alder Ford,1\nlate,0,1,1,1,,1\n", whole(t, []view.Table{view.DistinctTable(h)}))
	assert.Equal(t, "cohort,release_site,released,Alder Ford,Tidehead\n"+
		"early,Mill Lade,1,1,0\nlate,Alder Ford,1,,1\n", whole(t, []view.Table{view.NextSeenTable(h)}))
}

func TestWhatStandsBesideThePassedTable(t *testing.T) {
	none := cjs.NoEstimate(cjs.Absent)
	all := cjs.Passed{Site: 1, PassedShare: est(.7, cjs.Estimated), WithRetention: est(.71, cjs.Estimated), BetweenCohorts: .104}
	one := cjs.Passed{Of: []cjs.Category{{Name: "cohort", Level: "early"}}, Site: 1, PassedShare: est(.6, cjs.Estimated), WithRetention: none, BetweenCohorts: math.NaN()}
	assert.Equal(t, `Differences between cohorts (percentage points)
                       standard
            standard  deviation
            error of    between
site        all fish    cohorts
──────────  ────────  ─────────
Alder Ford       1.4       10.4
`, screen(t, []view.Table{view.SpreadTable(river(), []cjs.Passed{all, one})}))
	assert.Contains(t, screen(t, []view.Table{view.RetentionTable(river(), []cjs.Passed{all, one}, 500, 492, .95)}),
		"492 of 500 held fish")
	assert.Empty(t, view.SpreadTable(river(), []cjs.Passed{one}).Rows)
}

func TestRowTestTable(t *testing.T) {
	tested := cjs.RowTest{Site: 1, RowA: 0, RowB: 1, Both: 176, OnlyA: 142, OnlyB: 201, Neither: 193, P: .0004}
	untested := cjs.RowTest{Site: 1, RowA: 0, RowB: 1, P: math.NaN(), Why: "no fish was seen farther down"}
	got := screen(t, []view.Table{view.RowTestTable(river(), []cjs.RowTest{tested})})
	assert.Contains(t, got, "<0.001")
	assert.NotContains(t, got, "because")
	both := screen(t, []view.Table{view.RowTestTable(river(), []cjs.RowTest{tested, untested})})
	assert.Contains(t, strings.Join(strings.Fields(both), " "), "no fish was seen farther down")
}

// A share that allows for lost tags and is at the edge has its mark explained.
func TestRetentionTable(t *testing.T) {
	row := cjs.Passed{Site: 1, PassedShare: est(.75, cjs.Estimated), WithRetention: est(1, cjs.Boundary)}
	shown := screen(t, []view.Table{view.RetentionTable(river(), []cjs.Passed{row}, 5, 0, .95)})
	assert.Contains(t, shown, "0 of 5 held fish kept theirs")
	assert.Contains(t, shown, "100.0†")
	assert.Contains(t, shown, "† on the boundary (0 or 1)")
}
