// Package explain finds what the documents say of a warning, a check, a rule
// or a status, by its ID.
package explain

import (
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

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
var pages = []string{"convergence.md", "checks.md", "travel.md", "rules.md", "planning.md", "study-file.md", "glossary.md"}

// listing are those of lists of terms and keys.
var listing = []string{"study-file.md", "glossary.md"}

var (
	listed   = regexp.MustCompile("^- (?:\\*\\*(.+?)\\*\\*|((?:`[^`]+`(?:, )?)+)): (.*)$")
	heading  = regexp.MustCompile(`^(#{1,6}) (.+)$`)
	id       = regexp.MustCompile(`^[a-z]+([-_ ][a-z]+)*$`)
	item     = regexp.MustCompile("^- `([^`]+)`( \\([^)]+\\))?: (.+)$")
	aside    = regexp.MustCompile(` ?\(\[[^\]]*\]\([^)]*\)\)`) // leads elsewhere, and says nothing
	emphasis = regexp.MustCompile("\\*{1,2}([^*`\n]+)\\*{1,2}")
	link     = regexp.MustCompile(`\[([^\]]*)\]\([^)]*\)`)
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
// with the text below it, and each item of a list that begins with one, or with terms
// or keys.
func entries(page, text string) []Entry {
	var out []Entry
	var section string
	var open *Entry // the heading whose text is read
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
		if open != nil && block != "" && !strings.HasPrefix(block, "```") {
			open.Paragraphs = append(open.Paragraphs, plain(block))
		}
		for _, line := range strings.Split(block, "\n") {
			if slices.Contains(listing, page) {
				out = append(out, listedIn(line, section, page)...)
				continue
			}
			if m := item.FindStringSubmatch(line); m != nil && isID(m[1]) && open == nil {
				out = append(out, Entry{ID: m[1], Kind: section, Page: page, Paragraphs: []string{sentence(m[3] + m[2])}})
			}
		}
	}
	return out
}

// listedIn are the terms, or keys of the study file, that a line begins with.
func listedIn(line, section, page string) (out []Entry) {
	m := listed.FindStringSubmatch(line)
	if m == nil {
		return nil
	}
	said, without, found := strings.Cut(strings.TrimSuffix(m[3], ")*"), " *(")
	text := []string{sentence(said)}
	if found {
		text = append(text, "Without it: "+plain(without)+".")
	}
	for _, name := range strings.FieldsFunc(m[1]+m[2], func(r rune) bool { return strings.ContainsRune(",()`", r) }) {
		if name = strings.TrimSpace(name); name != "" {
			out = append(out, Entry{ID: name, Kind: section, Page: page, Paragraphs: text})
		}
	}
	return out
}

// sentence is an item of a list that stands alone.
func sentence(s string) string {
	first, n := utf8.DecodeRuneInString(s)
	return plain(string(unicode.ToUpper(first))+s[n:]) + "."
}

// isID leaves out headings that are sentences.
func isID(s string) bool { return id.MatchString(s) }

// plain is text without links and the marks of emphasis, on one line a paragraph.
func plain(s string) string {
	s = link.ReplaceAllString(aside.ReplaceAllString(s, ""), "$1")
	return strings.Join(strings.Fields(emphasis.ReplaceAllString(s, "$1")), " ")
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
