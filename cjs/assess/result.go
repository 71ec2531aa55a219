package assess

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/internal/plain"
	"example.org/unseen/history"
)

// The stable IDs of the checks; docs/checks.md has a heading for each.
const (
	NewlySeenAgain   = "newly-tagged-seen-again"
	NewlyWhereNext   = "newly-tagged-where-next"
	EarlierSeenAgain = "earlier-history-seen-again"
	EarlierWhereNext = "earlier-history-where-next"
	UnseenNextSeen   = "unseen-next-seen"
	UnseenWhereLater = "unseen-where-later"
	RowsIndependent  = "rows-independent"
	CohortsAlike     = "cohorts-alike"
)

// names are what each check that is summed says of the fish, in the order in
// which they are shown.
var names = []struct{ id, name string }{
	{NewlySeenAgain, "newly tagged and earlier fish are detected again alike"},
	{NewlyWhereNext, "newly tagged and earlier fish are detected again at the same sites"},
	{EarlierSeenAgain, "often and rarely detected fish are detected again alike"},
	{EarlierWhereNext, "often and rarely detected fish are detected again at the same sites"},
	{UnseenNextSeen, "detected and missed fish are next detected alike"},
	{UnseenWhereLater, "detected and missed fish are next detected at the same later sites"},
	{RowsIndependent, "rows of a site detect fish independently"},
}

// CheckIDs are the IDs of all checks, in the order in which they are shown.
func CheckIDs() []string {
	var out []string
	for _, n := range names {
		out = append(out, n.id)
	}
	return append(out, CohortsAlike)
}

// Result is the answer of all checks: plain data.
type Result struct {
	River      *history.River // the sites that tables refer to
	Components []Component    // each check over all its tables
	Tables     []Table        // counted or not; [Table] says why
	Classes    []ClassSum     // the sums by group of fish
	// Total is over all tables that count.
	Total Sum
	// Tested tables count towards Total; BelowLevel of them have p < 0.05,
	// and ByChance is how many are expected to under the model.
	Tested, BelowLevel int
	ByChance           float64
	// Likeness compares the cohorts (with their categories), a table a site:
	// a hypothesis, no part of Total. Empty with one cohort.
	Likeness []Table
	// BeforeCovariates: the model has numbers of single fish, for which the
	// tables make no allowance.
	BeforeCovariates bool
	// LeftOut is the number of fish left out for a missing category.
	LeftOut int
	// Reduced: the data are a next-seen table, which does not tell what is
	// behind a fish.
	Reduced bool
}

// Sum is the statistic of several tables together.
type Sum struct {
	Statistic float64 // chi-square
	DF        int
	P         float64 // NaN at 0 df
}

func (s *Sum) add(t *Table) {
	if t.Counted {
		s.Statistic += t.Statistic
		s.DF += t.DF
	}
}

func (s *Sum) settle() {
	s.P = math.NaN()
	if s.DF > 0 {
		s.P = upperTail(s.Statistic, s.DF)
	}
}

// upperTail is the probability that chi-square on df degrees of freedom
// exceeds x.
func upperTail(x float64, df int) float64 {
	return distuv.ChiSquared{K: float64(df)}.Survival(x)
}

// Component is one check over all sites and classes.
type Component struct {
	ID, Name string // stable, and in words
	// Tables are indices into [Result.Tables].
	Tables []int
	Sum
	// Why says why there is no table, or "".
	Why string
}

// How a table was tested.
const (
	ChiSquare = "chi-square"
	Exact     = "exact"
)

// Table is one contingency table: fish split by their past in lines, by their
// future in columns.
type Table struct {
	Check string         // ID
	Of    []cjs.Category // empty: all fish
	class int
	// Site is the site the fish are split at.
	Site int
	// Row is the upper of two neighbouring rows of a divided site, −1 else.
	Row int
	// Often: fish detected that often between release and Site, or oftener,
	// stand in the first line; 0 but for the checks of earlier history.
	Often int
	// Past names, in a table of likeness, what the lines differ in: "cohort",
	// "cohort and sex".
	Past  string
	Lines []string
	// Columns label Counts; one a column of it.
	Columns []string
	Counts  [][]int
	// Allowance says how the table allows for rows that did not work all the
	// time: [LikeTimes], [AtWork], or "" where it need not. Within sets of like
	// times the statistic is that of Mantel & Haenszel; Counts are of all sets.
	Allowance string
	// Expected are, in a table of like times, the fish of the first line expected
	// in each pooled column.
	Expected []float64
	sets     [][][]int
	// Pooled[c] is the pooled column that column c is tested in; nil where
	// nothing was tested. PooledLines likewise, nil where lines stand alone.
	Pooled, PooledLines []int
	Method              string // "" where a margin is zero
	// Statistic is chi-square, for an exact test the quantile of chi-square
	// on 1 degree of freedom that belongs to P.
	Statistic float64
	DF        int
	P         float64 // NaN where nothing was tested
	// SmallestP is the least P its margins allow; NaN but for exact tests.
	SmallestP float64
	// ByChance is the probability that P < 0.05 under the model.
	ByChance float64
	// Counted: the table adds to statistic and degrees of freedom.
	Counted bool
	// Why says why it does not, or "".
	Why string
}

// ClassSum is all checks of the fish that share all categories.
type ClassSum struct {
	Of []cjs.Category // empty: all fish
	Sum
}

// Level is the probability below which a table is spoken of.
const Level = 0.05

// WrongModel is the variance inflation above which it is the model that is
// wrong, not the spread (common practice; Lebreton et al. 1992 warn likewise).
const WrongModel = 3

// VarianceInflation is the factor by which fish that do not act alone, or
// differ, widen the variances: the total statistic over its degrees of
// freedom, at least 1. ok is false, and the factor 1, where nothing could be
// tested.
func (r *Result) VarianceInflation() (factor float64, ok bool) {
	if r.Total.DF == 0 {
		return 1, false
	}
	return max(1, r.Total.Statistic/float64(r.Total.DF)), true
}

// Results as JSON: every exported field, its name in lower case with
// underscores, null where a value does not exist.

func (r Result) MarshalJSON() ([]byte, error)    { return plain.JSON(r) }
func (t Table) MarshalJSON() ([]byte, error)     { return plain.JSON(t) }
func (c Component) MarshalJSON() ([]byte, error) { return plain.JSON(c) }
func (s Sum) MarshalJSON() ([]byte, error)       { return plain.JSON(s) }
func (c ClassSum) MarshalJSON() ([]byte, error)  { return plain.JSON(c) }
