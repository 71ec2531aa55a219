package view

import (
	"fmt"
	"strings"

	"example.org/unseen/history"
)

// CheckPage says what is wrong with a study's data. duplicates is nil where
// exact duplicates were not counted; a is nil where there are no sightings.
func CheckPage(title string, fish int, a *history.Accounting, findings []history.Finding, duplicates *int64) Page {
	p := Page{Title: title, Stamp: Plural(fish, "fish", "fish")}
	if a != nil {
		s := Section{Heading: "Every record read", Tables: []Table{AccountingTable(a)}}
		sum := fmt.Sprintf("The boxes add up: %s of %s records read.", Digits(float64(a.Sum()), 0), Digits(float64(a.Read), 0))
		if a.Sum() != a.Read {
			sum = fmt.Sprintf("The boxes do NOT add up: %d of %d records read. This is a fault of the program; please report it.", a.Sum(), a.Read)
		}
		s.Notes = []string{sum}
		if duplicates != nil {
			s.Notes = append(s.Notes, fmt.Sprintf("Of the records read, %s repeat another one exactly.", Digits(float64(*duplicates), 0)))
		}
		p.Sections = append(p.Sections, s)
	}
	s := Section{Heading: "What to look at, the weightiest first", Tables: []Table{FindingTable(findings)}}
	if len(findings) == 0 {
		s.Paragraphs = []string{"Nothing was found that could move the answer."}
	}
	for i, f := range findings {
		s.Paragraphs = append(s.Paragraphs, finding(i+1, f))
	}
	p.Sections = append(p.Sections, s)
	return p
}

func finding(number int, f history.Finding) string {
	parts := []string{fmt.Sprintf("%d. %s", number, strings.TrimSuffix(f.Message, "."))}
	if f.Example != "" {
		parts[0] += " (first: " + f.Example + ")"
	}
	parts[0] += "."
	if f.Advice != "" {
		parts = append(parts, f.Advice)
	}
	return strings.Join(parts, " ") + " [" + f.ID + "]"
}
