package assess

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/unseen/cjs"
	"example.org/unseen/history"
)

// The stable IDs of warnings; docs/checks.md has a heading for each.
const (
	WarnLackOfFit        = "lack-of-fit"
	WarnWrongModel       = "inflation-above-three"
	WarnCannotBeChecked  = "cannot-be-checked"
	WarnBeforeCovariates = "inflation-before-covariates"
	WarnCovariate        = "covariate-misfit"
)

// WarningIDs are all IDs of warnings in the order of weight.
var WarningIDs = []string{WarnWrongModel, WarnLackOfFit, WarnCovariate, WarnCannotBeChecked, WarnBeforeCovariates}

// meaning is what a table below 0.05 suggests, by check.
var meaning = map[string]string{
	NewlySeenAgain:   "tagging affects survival or behaviour, or some of the tagged only pass through once",
	NewlyWhereNext:   "newly tagged fish are detected, or travel, differently for a while",
	EarlierSeenAgain: "fish differ in how well they are detected and in how they survive, or detection affects them",
	EarlierWhereNext: "fish differ in how well they are detected",
	UnseenNextSeen:   "detections at the two sites are not independent, or fish differ in how well they are detected",
	UnseenWhereLater: "detections downstream depend on those here, or fish differ in how well they are detected",
	RowsIndependent:  "the rows do not detect fish independently: detection of the whole site is not 1 − Π(1 − p)",
	CohortsAlike:     "keep them apart in the model; this is no lack of fit",
}

// Sentence says in plain words what the table shows; "" where nothing was
// tested.
func (t *Table) Sentence(river *history.River) string {
	if math.IsNaN(t.P) || !t.shaped(river) {
		return ""
	}
	if t.Check == CohortsAlike {
		return t.likenessSentence(river)
	}
	counts := t.Tested()
	perLine, perColumn, total := margins(counts)
	// The column that deviates most tells the story.
	at, far, off := 0, -1.0, 0.0
	for c := range perColumn {
		e := float64(perLine[0]) * float64(perColumn[c]) / float64(total)
		if t.Expected != nil {
			e = t.Expected[c]
		}
		if d := float64(counts[0][c]) - e; math.Abs(d) > far*(1+1e-9) {
			at, far, off = c, math.Abs(d), d
		}
	}
	first := history.Say("(%d of %d)", counts[0][at], perLine[0])
	second := history.Say("(%d of %d)", counts[1][at], perLine[1])
	share := func(l int) float64 { return float64(counts[l][at]) / float64(perLine[l]) }
	if t.Expected == nil {
		off = share(0) - share(1)
	} else {
		first = history.Say("(%d, where %.1f would be expected)", counts[0][at], t.Expected[at])
		second = "that came at like times"
	}
	often := "as often as"
	switch {
	case off < 0:
		often = "less often"
	case off > 0:
		often = "more often"
	}
	than := "than"
	if often == "as often as" {
		often, than = "as often", "as"
	}
	site := river.Sites[t.Site].Name
	where := t.where(at)
	var s string
	switch t.Check {
	case NewlySeenAgain, NewlyWhereNext:
		s = fmt.Sprintf("Of fish released at %s%s%s, those detected before were %s %s %s %s those newly tagged there %s", site, t.only(), inBrackets(t.Of), where, often, first, than, second)
	case EarlierSeenAgain, EarlierWhereNext:
		s = fmt.Sprintf("Of fish detected at %s%s%s, those %s were %s %s %s %s those %s %s", site, t.only(), inBrackets(t.Of), t.Lines[0], where, often, first, than, t.Lines[1], second)
	case UnseenNextSeen, UnseenWhereLater:
		of := "detected again below " + site
		if t.Check == UnseenWhereLater {
			of = "detected again below " + river.Sites[t.Site+1].Name + " and not there"
		}
		s = fmt.Sprintf("Of fish %s%s, those detected at %s were %s %s %s %s those that passed it unseen %s", of, inBrackets(t.Of), site, where, often, first, than, second)
	case RowsIndependent:
		s = fmt.Sprintf("Of fish detected below %s%s, those %s were %s %s %s %s those %s %s", site, inBrackets(t.Of), t.Lines[0], where, often, first, than, t.Lines[1], second)
	}
	if t.Allowance == AtWork {
		s += ", where they passed while all rows worked"
	}
	s += ", " + PWords(t.P)
	if below(t.P) {
		s += ": " + meaning[t.Check]
	}
	return s + "."
}

// shaped tells whether the table has what a sentence tells of: its site, two lines
// with a count for every column, and at least two columns tested.
func (t *Table) shaped(river *history.River) bool {
	if river == nil || t.Site < 0 || t.Site >= len(river.Sites)-1 || !t.pools() {
		return false
	}
	if t.Check == CohortsAlike {
		return true
	}
	n := len(t.Columns)
	columns := 0
	if len(t.Pooled) > 0 {
		columns = slices.Max(t.Pooled) + 1
	}
	return n > 1 && len(t.Lines) > 1 && len(t.Counts) > 1 && len(t.Pooled) == n && len(t.Tested()) > 1 &&
		(t.Expected == nil || len(t.Expected) == columns)
}

// pools tells whether every line and column is pooled into one that is there.
func (t *Table) pools() bool {
	within := func(pooled []int, n int) bool {
		return pooled == nil || n == 0 && len(pooled) == 0 || n > 0 && len(pooled) == n && slices.Min(pooled) >= 0 && slices.Max(pooled) < n
	}
	for _, line := range t.Counts {
		if !within(t.Pooled, len(line)) {
			return false
		}
	}
	return within(t.PooledLines, len(t.Counts))
}

// only adds what the fish of tables of where next have in common.
func (t *Table) only() string {
	if t.Check == NewlyWhereNext || t.Check == EarlierWhereNext {
		return " and detected again"
	}
	return ""
}

// where names pooled column at in a sentence.
func (t *Table) where(at int) string {
	var sites []string
	for c, p := range t.Pooled {
		if p == at {
			sites = append(sites, t.Columns[c])
		}
	}
	if len(sites) == 1 {
		return sites[0]
	}
	for i := range sites {
		sites[i] = strings.TrimPrefix(sites[i], "next detected at ")
	}
	if len(sites) > 3 {
		sites = []string{sites[0] + " to " + sites[len(sites)-1]}
		return "next detected at " + sites[0]
	}
	return "next detected at " + strings.Join(sites[:len(sites)-1], ", ") + " or " + sites[len(sites)-1]
}

func (t *Table) likenessSentence(river *history.River) string {
	verb := "do not visibly differ"
	if below(t.P) {
		verb = "differ"
	}
	s := fmt.Sprintf("Fish released at %s %s by %s in where they are next detected, %s", river.Sites[t.Site].Name, verb, t.Past, PWords(t.P))
	if below(t.P) {
		s += ": " + meaning[t.Check]
	}
	return s + "."
}

// Tested are the counts as they were tested, lines and columns pooled.
func (t *Table) Tested() [][]int {
	if len(t.Pooled) == 0 || !t.pools() {
		return t.Counts
	}
	counts := t.Counts
	if t.PooledLines != nil {
		counts = make([][]int, slices.Max(t.PooledLines)+1)
		for l, line := range t.Counts {
			if counts[t.PooledLines[l]] == nil {
				counts[t.PooledLines[l]] = make([]int, len(line))
			}
			addInts(counts[t.PooledLines[l]], line)
		}
	}
	return gather(counts, t.Pooled, slices.Max(t.Pooled)+1)
}

// mostSentences: more tables than this are left to the table of tables.
const mostSentences = 5

// Words says in plain words what the checks found, a paragraph each; the
// verdict first, then the tables below 0.05, smallest probability first.
func (r *Result) Words() []string {
	if r.Total.DF == 0 {
		return []string{"Fit cannot be checked with these data: no table has enough fish to be tested."}
	}
	var out []string
	total := fmt.Sprintf("%s together give chi-square %.2f on %d df, %s", plural(r.Tested, "table that can be tested", "tables that can be tested"), r.Total.Statistic, r.Total.DF, PWords(r.Total.P))
	model := "the fully reach- and group-specific model (survival for each reach, detection for each row" + r.forEach() + ")"
	single, speaks := r.single()
	switch {
	case r.Total.P < Level:
		out = append(out, fmt.Sprintf("Evidence of lack of fit to %s: %s.", model, total))
	case speaks:
		out = append(out, fmt.Sprintf("Evidence of lack of fit to %s: %s. All tables together do not: %s.", model, single, total))
	case single != "":
		out = append(out, fmt.Sprintf("Little evidence of lack of fit to %s: %s. On its own, %s.", model, total, single))
	default:
		out = append(out, fmt.Sprintf("No evidence of lack of fit to %s: %s.", model, total))
	}
	few := "None"
	if r.BelowLevel > 0 {
		few = fmt.Sprint(r.BelowLevel)
	}
	out = append(out, fmt.Sprintf("%s of %s %s below 0.05; by chance alone %.1f would be expected to.", few, plural(r.Tested, "table", "tables"), verb(max(1, r.BelowLevel), "falls", "fall"), r.ByChance))
	c, _ := r.VarianceInflation()
	inflation := fmt.Sprintf("Variance inflation%s: %.2f (%.2f / %d", r.before(), c, r.Total.Statistic, r.Total.DF)
	if r.Total.Statistic < float64(r.Total.DF) {
		inflation += ", taken as 1"
	}
	inflation += ")."
	if c > WrongModel {
		inflation += " Above 3 the model itself is inadequate: wider intervals do not correct that."
	}
	out = append(out, inflation)
	below := r.belowLevel()
	for i, t := range below {
		if i == mostSentences {
			out = append(out, history.Say("%d more %s below 0.05: unseen assess --tables shows all.", len(below)-i, verb(len(below)-i, "table falls", "tables fall")))
			break
		}
		out = append(out, t.Sentence(r.River))
	}
	return out
}

// belowLevel are the counted tables with p < 0.05, smallest first.
func (r *Result) belowLevel() []*Table {
	var out []*Table
	for i := range r.Tables {
		if t := &r.Tables[i]; t.Counted && below(t.P) {
			out = append(out, t)
		}
	}
	slices.SortStableFunc(out, func(a, b *Table) int { return cmp.Compare(a.P, b.P) })
	return out
}

// before labels an inflation that makes no allowance for covariates.
func (r *Result) before() string {
	if r.BeforeCovariates {
		return " before covariates"
	}
	return ""
}

// forEach names what the classes are told apart by.
func (r *Result) forEach() string {
	if len(r.Classes) == 0 {
		return ""
	}
	if n := categoryNames(r.Classes[0].Of); n != "" {
		return ", for each " + n
	}
	return ""
}

// Warnings are what the user of a fit of this model must know: what was seen,
// what it means, what to try.
func (r *Result) Warnings() []cjs.Warning {
	var out []cjs.Warning
	warn := func(id, about, format string, args ...any) {
		out = append(out, cjs.Warning{ID: id, About: about, Message: history.Say(format, args...)})
	}
	c, ok := r.VarianceInflation()
	single, speaks := r.single()
	switch {
	case !ok:
		warn(WarnCannotBeChecked, "data", "No table has enough fish to be tested, so whether the model fits cannot be checked. The intervals are valid only if it does. More fish, or one site more, would make a check possible.")
		return out
	case c > WrongModel:
		most := r.worst()
		warn(WarnWrongModel, "model", "The variance inflation%s is %.2f (chi-square %.2f on %d df). Above 3 the model itself is inadequate: wider intervals do not correct that. Most of it comes from the check on whether %s (%.2f on %d df); unseen assess --tables shows its tables.", r.before(), c, r.Total.Statistic, r.Total.DF, most.Name, most.Statistic, most.DF)
	case r.Total.P < Level:
		most := r.worst()
		warn(WarnLackOfFit, "model", "Evidence of lack of fit (chi-square %.2f on %d df, %s; variance inflation%s %.2f): standard errors are too small. Most of it comes from the check on whether %s; unseen assess shows where. With --variance-inflation auto the intervals become wider.", r.Total.Statistic, r.Total.DF, PWords(r.Total.P), r.before(), c, most.Name)
	case speaks:
		warn(WarnLackOfFit, "model", "Evidence of lack of fit in one part of the model: %s. All tables together do not show it (chi-square %.2f on %d df, %s; variance inflation%s %.2f), so that --variance-inflation auto does not allow for it; unseen assess shows more.", single, r.Total.Statistic, r.Total.DF, PWords(r.Total.P), r.before(), c)
	}
	if r.BeforeCovariates {
		warn(WarnBeforeCovariates, "model", "The variance inflation %.2f is before covariates: the tables make no allowance for numbers of single fish, which may explain part of it. See observed minus expected by covariate with unseen assess --full.", c)
	}
	return out
}

// worst is the component that adds most beyond its degrees of freedom.
func (r *Result) worst() *Component {
	var worst *Component
	for i := range r.Components {
		c := &r.Components[i]
		if worst == nil || c.Statistic-float64(c.DF) > worst.Statistic-float64(worst.DF) {
			worst = c
		}
	}
	if worst == nil {
		return &Component{} // no result of Check
	}
	return worst
}
