package model

import (
	"time"

	"example.org/unseen/cjs/internal/plain"
)

// summary is a problem as JSON: the model in words and the fish it is about,
// not the histories and the design.
type summary struct {
	Spec       Spec
	Words      string
	Sites      []string
	Cohorts    []string
	Categories []string
	Numbers    []Number
	Columns    []Column
	Classes    int
	Fish       int
	Dropped    int
	Filled     int
	NotYet     int
	TestPasses []TestPasses
	AsOf       time.Time
}

// MarshalJSON implements json.Marshaler with what the model is, not with the
// data of every fish.
func (p *Problem) MarshalJSON() ([]byte, error) {
	if err := p.Check(); err != nil {
		return nil, err
	}
	s := summary{Spec: p.Spec, Words: p.Words(), Categories: p.Categories, Numbers: p.Numbers, Columns: p.Columns, Classes: len(p.Classes),
		Fish: p.Fish(), Dropped: p.Dropped, Filled: p.Filled, NotYet: p.NotYet, TestPasses: p.TestPasses, Cohorts: p.Histories.Cohorts}
	for _, x := range p.Histories.River.Sites {
		s.Sites = append(s.Sites, x.Name)
	}
	if p.Running() {
		s.AsOf = time.UnixMilli(p.AsOf).UTC()
	}
	return plain.JSON(s)
}

// Fish is the number of newly released fish that the problem is about.
func (p *Problem) Fish() int {
	n := 0
	for g := range p.Classes {
		for _, fresh := range p.Classes[g].New {
			n += fresh
		}
	}
	return n
}
