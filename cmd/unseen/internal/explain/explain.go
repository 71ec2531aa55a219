// Package explain finds what the documents say of a warning, a check, a rule
// or a status, by its ID.
package explain

import (
	"regexp"
	"strings"

	"example.org/unseen/docs"
)

// Entry is what one page says of one ID.
type Entry struct {
	ID   string
	Kind string // of what: the heading it stands under
	Page string // file name
	// Paragraphs are its text; links are their words alone.
	Paragraphs []string
}

// pages are those that explain IDs.
var pages = []string{"convergence.md", "checks.md", "travel.md", "rules.md", "planning.md"}

var (
	heading = regexp.MustCompile(`^(#{1,6}) (.+)$`)
	id      = regexp.MustCompile(`^[a-z]+([-_ ][a-z]+)*$`)
	link    = regexp.MustCompile(`\[([^\]]*)\]\([^)]*\)`)
)

// Entries are all there are, in the order of the documents.
func Entries() []Entry {
	var out []Entry
	for _, page := range pages {
		b, err := docs.Pages.ReadFile(page)
		if err != nil {
			panic(err) // embedded
		}
		out = append(out, entries(page, string(b))...)
	}
	return out
}

// File is the first file of a kind, such as toml, that a page shows in full.
func File(page, kind string) string {
	b, err := docs.Pages.ReadFile(page)
	if err != nil {
		panic(err) // embedded
	}
	_, after, found := strings.Cut(string(b), "```"+kind+"\n")
	text, _, closed := strings.Cut(after, "```\n")
	if !found || !closed {
		panic(page + " shows no " + kind + " file")
	}
	return text
}

// entries are those of a page: each heading of the third level that is an ID,
// with the text below it, and each row of a table whose first cell is one.
func entries(page, text string) []Entry {
	var out []Entry
	var section string
	var open *Entry // the heading whose text is read
	var columns []string
	for _, block := range strings.Split(text, "\n\n") {
		block = strings.TrimSpace(block)
		if m := heading.FindStringSubmatch(block); m != nil {
			open = nil
			switch {
			case len(m[1]) <= 2:
				section = m[2]
			case isID(m[2]):
				out = append(out, Entry{ID: m[2], Kind: section, Page: page})
				open = &out[len(out)-1]
			}
			continue
		}
		if !strings.HasPrefix(block, "|") {
			if open != nil && block != "" && !strings.HasPrefix(block, "```") {
				open.Paragraphs = append(open.Paragraphs, plain(block))
			}
			continue
		}
		columns = nil
		for _, line := range strings.Split(block, "\n") {
			cells := cellsOf(line)
			switch name := strings.Trim(cells[0], "`"); {
			case columns == nil:
				columns = cells
			case isID(name) && explains(columns[0]):
				out = append(out, Entry{ID: name, Kind: section, Page: page, Paragraphs: row(columns, cells)})
			}
		}
	}
	return out
}

// explains tells tables of IDs, by the heading of their first column.
func explains(first string) bool { return first == "rule" || first == "report" || first == "status" }

// isID leaves out headings that are sentences.
func isID(s string) bool { return id.MatchString(s) }

func cellsOf(line string) []string {
	cells := strings.Split(strings.Trim(line, "|"), "|")
	for i := range cells {
		cells[i] = strings.TrimSpace(cells[i])
	}
	return cells
}

// row is a row of a table as paragraphs, each with the heading of its column.
func row(columns, cells []string) []string {
	var out []string
	for i := 1; i < len(cells) && i < len(columns); i++ {
		if cells[i] != "" && columns[i] != "" {
			out = append(out, strings.ToUpper(columns[i][:1])+columns[i][1:]+": "+plain(cells[i])+".")
		}
	}
	return out
}

// plain is text without the marks of links, on one line a paragraph.
func plain(s string) string {
	return strings.Join(strings.Fields(link.ReplaceAllString(s, "$1")), " ")
}

// Find is what is said of an ID; written with hyphens, underscores or blanks
// all the same.
func Find(name string) []Entry {
	var out []Entry
	for _, e := range Entries() {
		if fold(e.ID) == fold(name) {
			out = append(out, e)
		}
	}
	return out
}

func fold(s string) string {
	return strings.NewReplacer("_", "-", " ", "-").Replace(strings.ToLower(strings.Trim(s, "[]`")))
}
