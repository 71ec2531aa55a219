// Package model turns a model in words ("reach + cohort by sex") into the
// design and data of package likelihood.
//
// Begin with [Build]; ExampleBuild shows it, ExampleParse the terms alone.
// Coefficients are on the scale of their link; numbers of fish are standardised
// within.
package model

import (
	"fmt"
	"sort"
	"strings"
	"unicode"
)

// Terms are a model part in canonical form: each term the sorted names of its
// factors, no term implied by another. No terms is "same": one value for all.
type Terms [][]string

// The grammar:
//
//	terms = "same" | term { "+" term }
//	term  = name { "by" name }
//	name  = bare word | "quoted name"

type token struct {
	text   string
	quoted bool
	at     int
}

// Parse reads terms. Errors say what was wrong and where in s, counted in
// characters from 1.
func Parse(s string) (Terms, error) {
	toks, err := scan(s)
	if err != nil {
		return nil, err
	}
	if len(toks) == 0 {
		return nil, fmt.Errorf("no terms; write same for one value for all")
	}
	var terms Terms
	i := 0
	for {
		var term []string
		for {
			if i >= len(toks) {
				return nil, fmt.Errorf("%q ends where a name should follow", s)
			}
			t := toks[i]
			if !t.quoted && (t.text == "+" || t.text == "by") {
				return nil, fmt.Errorf("%q: %q at character %d stands where a name should", s, t.text, t.at)
			}
			if !t.quoted && t.text == "same" {
				if len(toks) > 1 {
					return nil, fmt.Errorf("%q: same stands alone: it is one value for all", s)
				}
				return Terms{}, nil
			}
			for _, n := range term {
				if n == t.text {
					return nil, fmt.Errorf("%q: %s stands twice in one term", s, t.text)
				}
			}
			term = append(term, t.text)
			i++
			if i < len(toks) && !toks[i].quoted && toks[i].text == "by" {
				i++
				continue
			}
			break
		}
		sortNames(term)
		for _, other := range terms {
			if strings.Join(other, "\x00") == strings.Join(term, "\x00") {
				return nil, fmt.Errorf("%q: the term %s stands twice", s, termString(term))
			}
		}
		terms = append(terms, term)
		if i >= len(toks) {
			break
		}
		if toks[i].quoted || toks[i].text != "+" {
			return nil, fmt.Errorf("%q: + or by is missing before %q at character %d", s, toks[i].text, toks[i].at)
		}
		i++
	}
	return terms.canonical(), nil
}

func scan(s string) ([]token, error) {
	var out []token
	rs := []rune(s)
	for i := 0; i < len(rs); {
		r := rs[i]
		switch {
		case unicode.IsSpace(r):
			i++
		case r == '+':
			out = append(out, token{"+", false, i + 1})
			i++
		case r == '"':
			j := i + 1
			for j < len(rs) && rs[j] != '"' {
				j++
			}
			if j == len(rs) {
				return nil, fmt.Errorf("%q: the quote at character %d is not closed", s, i+1)
			}
			if j == i+1 {
				return nil, fmt.Errorf("%q: an empty name at character %d", s, i+1)
			}
			out = append(out, token{string(rs[i+1 : j]), true, i + 1})
			i = j + 1
		case isBare(r):
			j := i
			for j < len(rs) && isBare(rs[j]) {
				j++
			}
			out = append(out, token{string(rs[i:j]), false, i + 1})
			i = j
		default:
			return nil, fmt.Errorf("%q: %q at character %d has no meaning here; names with such signs are written in quotes, terms are joined with + and by", s, string(r), i+1)
		}
	}
	return out, nil
}

func isBare(r rune) bool {
	return r == '_' || r == '.' || unicode.IsLetter(r) || unicode.IsDigit(r)
}

// rank orders names: those of the river first, then the cohort, then columns.
func rank(name string) int {
	switch name {
	case "reach", "site", "row":
		return 0
	case "cohort":
		return 1
	}
	return 2
}

func sortNames(names []string) {
	sort.SliceStable(names, func(i, j int) bool {
		if a, b := rank(names[i]), rank(names[j]); a != b {
			return a < b
		}
		return names[i] < names[j]
	})
}

// canonical drops terms implied by others (a by b implies a and b) and sorts.
func (t Terms) canonical() Terms {
	var out Terms
	for i, a := range t {
		implied := false
		for j, b := range t {
			implied = implied || i != j && len(a) < len(b) && subset(a, b)
		}
		if !implied {
			out = append(out, a)
		}
	}
	sort.SliceStable(out, func(i, j int) bool {
		a, b := out[i], out[j]
		if x, y := rank(a[0]), rank(b[0]); x != y {
			return x < y
		}
		if len(a) != len(b) {
			return len(a) < len(b)
		}
		return strings.Join(a, "\x00") < strings.Join(b, "\x00")
	})
	return out
}

func subset(a, b []string) bool {
	for _, x := range a {
		found := false
		for _, y := range b {
			found = found || x == y
		}
		if !found {
			return false
		}
	}
	return true
}

// Without is the terms with a name left out everywhere.
func (t Terms) Without(name string) Terms {
	var out Terms
	for _, term := range t {
		var kept []string
		for _, n := range term {
			if n != name {
				kept = append(kept, n)
			}
		}
		if len(kept) > 0 {
			out = append(out, kept)
		}
	}
	// Leaving a name out can make two terms alike.
	var unique Terms
	for _, a := range out {
		same := false
		for _, b := range unique {
			same = same || len(a) == len(b) && subset(a, b)
		}
		if !same {
			unique = append(unique, a)
		}
	}
	return unique.canonical()
}

// renamed is the terms with one name for another.
func (t Terms) renamed(from, to string) Terms {
	out := make(Terms, len(t))
	for i, term := range t {
		for _, n := range term {
			if n == from {
				n = to
			}
			out[i] = append(out[i], n)
		}
		sortNames(out[i])
	}
	return out.canonical()
}

// Equal tells whether two canonical terms are the same.
func (t Terms) Equal(o Terms) bool { return t.String() == o.String() }

// Names are all names of the terms, each once, sorted.
func (t Terms) Names() []string {
	seen := map[string]bool{}
	var out []string
	for _, term := range t {
		for _, n := range term {
			if !seen[n] {
				seen[n] = true
				out = append(out, n)
			}
		}
	}
	sortNames(out)
	return out
}

// String is the canonical form, which Parse reads back.
func (t Terms) String() string {
	if len(t) == 0 {
		return "same"
	}
	parts := make([]string, len(t))
	for i, term := range t {
		parts[i] = termString(term)
	}
	return strings.Join(parts, " + ")
}

func termString(term []string) string {
	parts := make([]string, len(term))
	for i, n := range term {
		parts[i] = quoteName(n)
	}
	return strings.Join(parts, " by ")
}

func quoteName(n string) string {
	for _, r := range n {
		if !isBare(r) {
			return `"` + n + `"`
		}
	}
	if n == "by" || n == "same" {
		return `"` + n + `"`
	}
	return n
}

// kind is what a factor of a term is.
type kind uint8

const (
	byReach   kind = iota // category: the reach of a survival slot
	bySite                // category: the site of a detection slot
	byRow                 // category: the row of a detection slot
	byStretch             // category: the stretch of a slot of drift or spread
	ofClass               // category of the fish (the cohort too)
	fishNum               // number of the fish
	siteNum               // number of the site (detection) or of the reach's lower site (survival)
	condition             // number of a cohort at a site
)

// Cohort is the name of the cohort as a term, whatever its column is called.
const Cohort = "cohort"

// Part is what a set of terms is about. Its words are those of the study file,
// the line and JSON (see [study.Parts]).
type Part string
