package view

import (
	"fmt"
	"strings"
	"time"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history"
	"example.org/unseen/history/findings"
	"example.org/unseen/history/ingest"
	"example.org/unseen/history/sighting"
)

// CheckPage says what is wrong with a study's data. duplicates may be nil.
func CheckPage(d *analysis.Data, duplicates *sighting.DuplicateCount) Page {
	p := newPage(d)
	if d.HasSightings() {
		a := &d.Accounting
		s := Section{Heading: "Every record read", Tables: []Table{AccountingTable(a)}}
		sum := fmt.Sprintf("All %s records accounted for.", Digits(float64(a.Read), 0))
		if a.Sum() != a.Read {
			sum = fmt.Sprintf("Only %d of %d records are accounted for. This is a fault of the program; please report it.", a.Sum(), a.Read)
		}
		s.Notes = []string{sum}
		if n := duplicates; n != nil {
			line := "No record is an exact duplicate of another."
			if n.Duplicates > 0 {
				line = fmt.Sprintf("%s an exact duplicate of an earlier one (%s repeats %s); duplicates count as repeats.",
					Plural(n.Duplicates, "record is", "records are"), n.Example, n.First)
			}
			s.Notes = append(s.Notes, line)
		}
		p.Sections = append(p.Sections, s, Section{Heading: "Every site", Tables: []Table{siteTable(d)}, Notes: lastRecords(d)})
	}
	s := Section{Heading: "Points to check, most serious first", Tables: []Table{FindingTable(d.Findings), InputTable(d.Inputs)}}
	if len(d.Findings) == 0 {
		s.Paragraphs = []string{"Nothing was found that could change the estimates."}
	}
	for i, f := range d.Findings {
		s.Paragraphs = append(s.Paragraphs, finding(i+1, f))
	}
	p.Sections = append(p.Sections, s)
	if len(d.Notes) > 0 {
		p.Sections = append(p.Sections, Section{Heading: "Assumed by the program", Notes: d.Notes})
	}
	return p
}

// siteTable shows what the readers of each site recorded, of whatever tag.
func siteTable(d *analysis.Data) Table {
	local := func(at func(*ingest.SiteActivity) int64) func(i int) string {
		return func(i int) string {
			ms := at(&d.Sites[i])
			if ms == history.NoTime {
				return ""
			}
			return time.UnixMilli(ms).In(d.Study.Location).Format("2006-01-02 15:04 MST")
		}
	}
	return records("sites", wire.ActivityOf(d), col("site", "site").key(), col("records", "records"),
		words("", "first", local(func(s *ingest.SiteActivity) int64 { return s.First })),
		words("", "last", local(func(s *ingest.SiteActivity) int64 { return s.Last })),
		col("first", "").holds(Moments), col("last", "").holds(Moments))
}

func finding(number int, f history.Finding) string {
	return fmt.Sprintf("%d. %s [%s]", number, findingWords(&f), f.ID)
}

// findingWords are what was noticed, of what, where first, and what to do.
func findingWords(f *history.Finding) string {
	parts := []string{strings.TrimSuffix(sentence(f.Message), ".")}
	if f.About != "" && !strings.Contains(f.Message, f.About) {
		parts[0] += ": " + f.About
	}
	if f.Example != "" {
		parts[0] += " (first " + f.Example + ")"
	}
	parts[0] += "."
	if f.Advice != "" {
		parts = append(parts, sentence(f.Advice))
	}
	return strings.Join(parts, " ")
}

// lastRecords says what the stamp's day is, where the readers went on after it.
func lastRecords(d *analysis.Data) []string {
	counts, any := d.Through(), d.LastRecord()
	if counts.IsZero() || any.IsZero() {
		return nil
	}
	if day(any) == day(counts) {
		return nil
	}
	return []string{fmt.Sprintf("The last record of any tag is dated %s; the last that counts, of a fish of the study, is dated %s.", day(any), day(counts))}
}

// graveSection is, before an answer, what puts all of it in doubt; none where
// nothing does.
func graveSection(found []history.Finding) []Section {
	var s Section
	for i := range found {
		if f := &found[i]; findings.Grave(f) {
			s.Warnings = append(s.Warnings, Warning{ID: f.ID, About: f.About, Message: findingWords(f)})
		}
	}
	if len(s.Warnings) == 0 {
		return nil
	}
	s.Heading = HeadingGrave
	return []Section{s}
}
