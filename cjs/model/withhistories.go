package model

import (
	"cmp"
	"fmt"

	"example.org/unseen/history"
)

// WithHistories is the same model — design, classes, standardised numbers — with other
// histories: record i of h is of fish like those of record of[i] of p, and
// tests are the test passes made anew, in the order of p's. h needs no columns; while
// the season runs, and where rows did not work all the time, it needs the times of
// releases and sightings, the releases those of p and no sighting after as_of.
func (p *Problem) WithHistories(h *history.Histories, of []int, tests []TestPasses) (*Problem, error) {
	if err := cmp.Or(p.Check(), h.Check()); err != nil {
		return nil, err
	}
	if err := p.fits(h, of, tests); err != nil {
		return nil, err
	}
	q := *p
	own := *h
	own.Columns = nil
	for _, x := range p.Numbers {
		from := p.Histories.Column(x.Name).Value
		c := history.Column{Name: x.Name, Value: make([]float64, len(of))}
		for i, r := range of {
			c.Value[i] = from[r]
		}
		own.Columns = append(own.Columns, c)
	}
	q.Histories, q.TestPasses, q.testUnits, q.Z = &own, tests, 0, nil
	q.Classes = make([]Class, len(p.Classes))
	for g := range q.Classes {
		q.Classes[g] = Class{Level: p.Classes[g].Level, Tally: newTally(p.Layout.Sites(), p.Layout.RowCount())}
	}
	q.ClassOf = make([]int32, len(of))
	for i, r := range of {
		g := p.ClassOf[r]
		q.ClassOf[i] = g
		if g >= 0 {
			q.Classes[g].count(&q, q.Histories, i, q.Last(i), h.Weight(i))
		}
	}
	q.data()
	q.room, q.tripOf, q.speeds, q.tested = nil, nil, nil, false
	if err := q.times(); err != nil {
		return nil, err
	}
	return &q, q.testPasses(tests)
}

// fits refuses histories and test passes that p's design is not of.
func (p *Problem) fits(h *history.Histories, of []int, tests []TestPasses) error {
	switch {
	case p.Timed() && (h.Released == nil || h.First == nil):
		return fmt.Errorf("while the season runs (as_of), and with working windows, the times count too, and no data can be made anew without them")
	}
	if h.Len() != len(of) || len(tests) != len(p.TestPasses) || h.River.Rows() != p.Layout.RowCount() {
		return fmt.Errorf("%d records like %d, %d test passes like %d, %d rows like %d: they do not belong together",
			h.Len(), len(of), len(tests), len(p.TestPasses), h.River.Rows(), p.Layout.RowCount())
	}
	for i, r := range of {
		if r < 0 || r >= len(p.ClassOf) {
			return fmt.Errorf("record %d is to be like record number %d; there are 0 to %d", i+1, r, len(p.ClassOf)-1)
		}
	}
	for _, t := range tests {
		if err := t.check(&h.River); err != nil {
			return err
		}
	}
	return nil
}
