package studyfile

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.org/unseen/cjs/simulate"
	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/cmd/unseen/internal/harmless"
	"example.org/unseen/history"
	"example.org/unseen/history/study"
	"example.org/unseen/history/table"
)

// Simulated writes a complete study of sample index of s into set: study.toml with
// the models of st, fish.csv, sightings.csv, and truth.json with what is true of
// its fish.
func Simulated(set *atomicfile.Set, st *study.Study, s *simulate.Study, index uint64) error {
	seed, t := s.Seed, &s.Truth
	x := invented{truth: t, told: s.Told(t), sample: t.Draw(seed, index), rnd: newTimes(seed, index)}
	for _, f := range []struct {
		name  string
		write func(io.Writer) error
	}{
		{"fish.csv", x.fish},
		{"sightings.csv", x.sightings},
		{"truth.json", harmless.Document(func(w io.Writer) error { return x.known(w, seed, index) })},
		{"study.toml", func(w io.Writer) error { return x.study(w, st) }},
	} {
		w, err := set.Create(f.name)
		if err != nil {
			return err
		}
		if err := f.write(w); err != nil {
			return err
		}
	}
	return nil
}

// invented is a sample with times: its own where the season still runs, else
// made up, for then they matter for no estimate.
type invented struct {
	truth  *simulate.Truth
	told   [][]study.Window // the windows of work that the study file gives
	sample *simulate.Sample
	rnd    interface {
		ExpFloat64() float64
	}
	reads []sighted
}

type sighted struct {
	tag, site, antenna string
	at                 time.Time
}

// newTimes are random numbers apart from those of the sample.
func newTimes(seed, index uint64) interface{ ExpFloat64() float64 } {
	return simulate.Stream(seed, index|1<<63)
}

// firstRelease is when the first cohort is let go; the others follow weekly.
var firstRelease = time.Date(2025, 4, 1, 20, 0, 0, 0, time.UTC)

// dailyKm is the speed on the move. Half the time of a reach is the same for
// all fish, so that nobody is faster than twice that.
const dailyKm = 15.0

// noFormulas has no text of a record run as a formula; numbers stay as they are.
func noFormulas(record []string) []string {
	for i := range record {
		record[i] = table.Harmless(record[i])
	}
	return record
}

// fish writes the tagging table and makes the sightings.
func (x *invented) fish(w io.Writer) error {
	h := x.sample.Histories
	c := csv.NewWriter(w)
	head := []string{"tag", "released"}
	later := slices.ContainsFunc(h.Entry, func(e uint8) bool { return e > 0 })
	if later {
		head = append(head, "site")
	}
	if h.CohortColumn != "" {
		head = append(head, "cohort")
	}
	for i := range h.Columns {
		head = append(head, h.Columns[i].Name)
	}
	removed := slices.Contains(h.End, history.Removed)
	if removed {
		head = append(head, "removed")
	}
	c.Write(noFormulas(head))
	masks := h.River.SiteMasks()
	id := 0
	for i := range h.Entry {
		for range h.Weight(i) {
			id++
			tag := fmt.Sprintf("999%012d", 41_000_000_000+id)
			at, format := firstRelease.AddDate(0, 0, 7*int(h.Cohort[i])), "2006-01-02 15:04"
			if h.Released != nil {
				at, format = time.UnixMilli(h.Released[i]).UTC(), time.DateTime
			}
			line := []string{tag, at.Format(format)}
			if later {
				line = append(line, h.River.Sites[h.Entry[i]].Name)
			}
			if h.CohortColumn != "" {
				line = append(line, h.Cohorts[h.Cohort[i]])
			}
			for k := range h.Columns {
				if col := &h.Columns[k]; col.IsCategory() {
					line = append(line, col.Levels[col.Level[i]])
				} else {
					line = append(line, study.FormatNumber(col.Value[i]))
				}
			}
			last := h.LastSite(i, masks)
			if removed {
				site := ""
				if h.End[i] == history.Removed {
					site = h.River.Sites[last].Name
				}
				line = append(line, site)
			}
			c.Write(noFormulas(line))
			if h.First == nil {
				x.travel(tag, at, int(h.Entry[i]), last, h.Seen[i])
			} else {
				x.travelled(tag, i)
			}
		}
	}
	c.Flush()
	return c.Error()
}

// travel makes the sightings of one fish.
func (x *invented) travel(tag string, at time.Time, entry, last int, seen uint64) {
	r := &x.sample.Histories.River
	for k := entry + 1; k <= last; k++ {
		days := 1.0
		if km := r.ReachKm(k - 1); km > 0 {
			days = km / dailyKm
		}
		at = at.Add(time.Duration(days * (0.5 + 0.5*x.rnd.ExpFloat64()) * float64(24*time.Hour))).Truncate(time.Second)
		for i := range r.Sites[k].RowCount() {
			if b := r.FirstRow(k) + i; seen>>uint(b)&1 == 1 {
				x.read(tag, b, at.Add(time.Duration(i)*5*time.Minute))
			}
		}
	}
}

// travelled takes the sightings of record i with their own times.
func (x *invented) travelled(tag string, i int) {
	h := x.sample.Histories
	rows := h.River.Rows()
	for b := range rows {
		if at := h.First[i*rows+b]; at != history.NoTime {
			x.read(tag, b, time.UnixMilli(at).UTC())
		}
	}
}

// read adds a sighting at numbered row b.
func (x *invented) read(tag string, b int, at time.Time) {
	r := &x.sample.Histories.River
	k := r.SiteOfRow()[b]
	s, row := &r.Sites[k], ""
	if s.Divided() {
		row = s.Rows[b-r.FirstRow(k)]
	}
	x.reads = append(x.reads, sighted{tag, s.Name, row, at})
}

// sightings writes the array file, in the order of time.
func (x *invented) sightings(w io.Writer) error {
	slices.SortStableFunc(x.reads, func(a, b sighted) int { return a.at.Compare(b.at) })
	c := csv.NewWriter(w)
	c.Write([]string{"tag", "site", "antenna", "time"})
	for _, r := range x.reads {
		c.Write(noFormulas([]string{r.tag, r.site, r.antenna, r.at.Format(time.DateTime)}))
	}
	c.Flush()
	return c.Error()
}

// trueCohort is what is true of a cohort's fish.
type trueCohort struct {
	Cohort string `json:"cohort"`
	Site   string `json:"site"`
	// Passed and PassedShare: fish that reached the site at large, and the
	// share that would have, had nobody been removed.
	Passed      int     `json:"passed"`
	PassedShare float64 `json:"passed_share"`
}

// trueOutage is what is true of a row that did not work all the time.
type trueOutage struct {
	simulate.Outage
	// Working are the times at which it did, whether the study file says so or not;
	// null where they are open.
	Working [][2]*time.Time `json:"working"`
}

func (x *invented) outages() (out []trueOutage) {
	i := 0 // those of the sample stand in the order of the rows
	for _, windows := range x.truth.Working {
		if windows == nil {
			continue
		}
		o := trueOutage{Outage: x.sample.Outages[i]}
		for _, w := range windows {
			o.Working = append(o.Working, [2]*time.Time{known(w.From), known(w.To)})
		}
		out = append(out, o)
		i++
	}
	return out
}

// known is a moment, nil where there is none.
func known(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	t = t.UTC()
	return &t
}

// known writes what is true.
func (x *invented) known(w io.Writer, seed, index uint64) error {
	h := x.sample.Histories
	doc := struct {
		Note       string              `json:"note"`
		Seed       uint64              `json:"seed"`
		Index      uint64              `json:"index"`
		Passed     []trueCohort        `json:"passed"`
		Violations simulate.Violations `json:"breakers"`
		Outages    []trueOutage        `json:"outages,omitempty"`
	}{"What is true of the simulated study beside this file; written by `unseen simulate`.", seed, index, nil, x.truth.Violations, x.outages()}
	for c, name := range h.Cohorts {
		for k := 1; k < len(h.River.Sites); k++ {
			if x.sample.Entered[c][k] > 0 {
				doc.Passed = append(doc.Passed, trueCohort{name, h.River.Sites[k].Name, x.sample.Passed[c][k], x.sample.Share[c][k]})
			}
		}
	}
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(doc)
}

// working writes the windows in which the rows of site k work.
func (x *invented) working(b *builder, k int) {
	if x.told == nil || k == 0 {
		return
	}
	river := &x.truth.River
	first, s := river.FirstRow(k), &river.Sites[k]
	moment := func(t time.Time, open string) string {
		if t.IsZero() {
			return open
		}
		return t.UTC().Format(time.RFC3339Nano)
	}
	byRow := map[string]string{}
	var rows []string
	var all string
	for i := range s.RowCount() {
		var of []string
		for _, w := range x.told[first+i] {
			of = append(of, "["+moment(w.From, "1900-01-01")+", "+moment(w.To, "2200-01-01")+"]")
		}
		if of == nil {
			continue
		}
		if all = "[" + strings.Join(of, ", ") + "]"; s.Divided() {
			byRow[s.Rows[i]] = all
			rows = append(rows, s.Rows[i])
		}
	}
	switch {
	case all == "":
	case s.Divided():
		b.key("working", ordered(rows, byRow))
	default:
		b.key("working", all)
	}
}

// study writes the study file.
func (x *invented) study(w io.Writer, st *study.Study) error {
	h := x.sample.Histories
	var b builder
	b.line("# Written by `unseen simulate`: the fish are made up; what is true of them stands in truth.json.")
	title := st.Title
	if title == "" {
		title = "study"
	}
	b.key("title", study.Quote(title+", simulated"))
	b.nouns(st)
	if !x.truth.AsOf.IsZero() {
		b.key("as_of", x.truth.AsOf.UTC().Format(time.RFC3339Nano))
	}
	b.table("[fish]")
	b.key("file", study.Quote("fish.csv"))
	if h.CohortColumn != "" {
		b.key("cohort", study.Quote("cohort"))
	}
	if kinds := kinds(h); len(kinds) > 0 {
		b.key("kinds", inline(kinds))
	}
	b.table("[sightings]")
	b.key("files", "["+study.Quote("sightings.csv")+"]")
	for k := range h.River.Sites {
		s := &h.River.Sites[k]
		// The antennas of a row are called as the row is.
		b.site(&study.Site{Name: s.Name, Km: s.Km, Days: s.Days, Attributes: s.Attributes})
		if len(s.Rows) > 0 {
			rows := map[string]string{}
			for _, r := range s.Rows {
				rows[r] = "[" + study.Quote(r) + "]"
			}
			b.key("rows", ordered(s.Rows, rows))
		}
		x.working(&b, k)
	}
	for _, t := range x.sample.TestPasses {
		s := &h.River.Sites[h.River.SiteOfRow()[t.Row]]
		b.table("[[test_passes]]")
		row := ""
		if s.Divided() {
			row = s.Rows[t.Row-h.River.FirstRow(h.River.SiteOfRow()[t.Row])]
		}
		b.place(s.Name, row)
		b.key("passes", strconv.Itoa(t.Passes))
		b.key("read", strconv.Itoa(t.Read))
	}
	if r := x.sample.Retention; r.Held > 0 {
		b.table("[retention]")
		b.key("held", strconv.Itoa(r.Held))
		b.key("kept", strconv.Itoa(r.Kept))
	}
	b.holds(st.Holds)
	b.models(st.Models)
	_, err := w.Write(b.Bytes())
	return err
}
