package assess

import (
	"fmt"
	"math"
	"strings"

	"example.org/unseen/history"
)

// The total averages: one check, or one table, that is far off can drown in the
// many that are not. So the smallest probability of a check, and of a table, is
// held against what the smallest of so many would be by chance.

// smallest is the least probability of several tests.
type smallest struct {
	what, name string // what is tested, and which of them it is
	p          float64
	of         int // tests
}

// take takes in a test of probability p.
func (s *smallest) take(name string, p float64) {
	if math.IsNaN(p) {
		return
	}
	if s.of++; s.of == 1 || p < s.p {
		s.name, s.p = name, p
	}
}

// bonferroni is the probability with allowance for the number of tests.
func (s *smallest) bonferroni() float64 { return min(1, s.p*float64(s.of)) }

func (s *smallest) words() string {
	w := fmt.Sprintf("the %s on whether %s has %s", s.what, s.name, PWords(s.p))
	if s.of > 1 {
		w += history.Say(" (%s when allowing for %d %ss)", PWords(s.bonferroni()), s.of, s.what)
	}
	return w
}

// extremes are the checks' and the tables' smallest probabilities.
func (r *Result) extremes() []smallest {
	checks, tables := smallest{what: "check"}, smallest{what: "table"}
	for i := range r.Components {
		c := &r.Components[i]
		if c.DF == 0 {
			continue
		}
		checks.take(c.Name, c.P)
		for _, at := range c.Tables {
			if at < 0 || at >= len(r.Tables) || r.River == nil || r.Tables[at].Site < 0 || r.Tables[at].Site >= len(r.River.Sites) {
				continue // no result of Check
			}
			if t := &r.Tables[at]; t.Counted {
				tables.take(c.Name+", at "+r.River.Sites[t.Site].Name+inBrackets(t.Of)+",", t.P)
			}
		}
	}
	return []smallest{checks, tables}
}

// single says what single checks and tables speak against the model, and
// whether that is more than chance: below 0.05 with allowance for their number.
// What is only small by itself (a check below 0.05, a table below 0.01) is said
// too. "" where there is nothing.
func (r *Result) single() (words string, speaks bool) {
	var found, hints []string
	for _, s := range r.extremes() {
		alone := Level
		if s.what == "table" {
			alone = 0.01
		}
		switch {
		case s.of == 0:
		case below(s.bonferroni()):
			found = append(found, s.words())
		case s.p < alone:
			hints = append(hints, s.words())
		}
	}
	if len(found) > 0 {
		return strings.Join(found, ", and "), true
	}
	return strings.Join(hints, ", and "), false
}
