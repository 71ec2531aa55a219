package view

import (
	"fmt"
	"slices"
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
			sum = history.Say("Only %d of %d records are accounted for. This is a fault of the program; please report it.", a.Sum(), a.Read)
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
	if declared := wire.DeclarationsOf(d.Study); len(declared) > 0 {
		p.Sections = append(p.Sections, Section{Heading: "Declared by the study", Tables: []Table{
			records("declared", declared, col("kind", "what").key(), col("at", "at"), col("value", "value"))}})
	}
	if len(d.Notes) > 0 {
		p.Sections = append(p.Sections, Section{Heading: "Assumed by the program", Notes: d.Notes})
	}
	return p
}

// AccountingLine says where the records read ended.
func AccountingLine(a *history.Accounting) string { return accountingLine(a, true) }

// accountingLine is AccountingLine, with or without the reasons.
func accountingLine(a *history.Accounting, reasons bool) string {
	var set int64
	for _, b := range a.SetAside {
		set += b.Records
	}
	s := fmt.Sprintf("%s read = %s kept + %s", Plural(a.Read, "record"), Plural(a.Kept, "passage"), Plural(a.Repeats, "repeat"))
	if set == 0 {
		return s + "."
	}
	s += fmt.Sprintf(" + %s set aside", Digits(float64(set), 0))
	if !reasons {
		return s + " (see `unseen check`)."
	}
	const named = 3
	boxes := slices.Clone(a.SetAside)
	slices.SortStableFunc(boxes, func(x, y history.Box) int { return int(y.Records - x.Records) })
	var parts []string
	for i, b := range boxes {
		if i == named && len(boxes) > named+1 {
			rest := int64(0)
			for _, b := range boxes[i:] {
				rest += b.Records
			}
			parts = append(parts, Digits(float64(rest), 0)+" for other reasons")
			break
		}
		parts = append(parts, fmt.Sprintf("%s %s", Digits(float64(b.Records), 0), b.Name))
	}
	return s + " (" + strings.Join(parts, ", ") + "; see `unseen check`)."
}

// AccountingTable shows every box; they add up to the records read.
func AccountingTable(a *history.Accounting) Table {
	t := Table{ID: "accounting", Columns: []Column{
		{Title: "records", Key: true}, {Name: "box"},
		{Name: "records", Title: "number", Kind: Count},
		{Name: "fish", Title: "fish", Kind: Count},
		{Name: "example", Title: "first example"},
	}}
	add := func(name, id string, n int64, fish Cell, example string) {
		t.Rows = append(t.Rows, []Cell{T(name), T(id), I(n), fish, T(example)})
	}
	add("kept: first of a passage", "kept", a.Kept, None(), "")
	add("repeats of a passage", "repeats", a.Repeats, None(), "")
	for _, b := range a.SetAside {
		fish := None()
		if b.Fish > 0 {
			fish = I(b.Fish)
		}
		add("set aside: "+b.Name, b.Rule, b.Records, fish, b.Example)
	}
	add("read", "read", a.Read, None(), "")
	return t
}

// FindingTable lists what the reading of the data noticed, for programs.
func FindingTable(findings []history.Finding) Table {
	t := records("findings", findings, col("id", ""), col("about", ""), col("count", ""), col("example", ""), col("message", ""), col("advice", ""))
	t.CSVOnly = true
	return t
}

// InputTable lists the files read.
func InputTable(inputs []history.Input) Table {
	t := records("inputs", inputs, col("file", ""), col("sha256", ""))
	t.CSVOnly = true
	return t
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

// FindingSentence is what was noticed, and of what.
func FindingSentence(f *history.Finding) string {
	s := strings.TrimSuffix(f.Message, ".")
	if f.About != "" && !strings.Contains(f.Message, f.About) {
		s += ": " + f.About
	}
	return Sentence(s)
}

// findingWords are what was noticed, of what, where first, and what to do.
func findingWords(f *history.Finding) string {
	parts := []string{strings.TrimSuffix(FindingSentence(f), ".")}
	if f.Example != "" {
		parts[0] += " (first " + f.Example + ")"
	}
	parts[0] += "."
	if f.Advice != "" {
		parts = append(parts, Sentence(f.Advice))
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

// The headings of sections that others look for.
const (
	HeadingGrave     = "Before you read on"
	HeadingPassed    = "Passed"
	HeadingSurvival  = "Survival by reach"
	HeadingDetection = "Detection"
	HeadingMovement  = "How the fish move"
	HeadingProducts  = "Products only (survival × detection; not separable)"
	HeadingEffects   = "Effects"
)
