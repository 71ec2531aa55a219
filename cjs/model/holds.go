package model

import (
	"errors"
	"fmt"
	"strings"

	"example.org/unseen/history"
	"example.org/unseen/likelihood"
)

// matches tells whether class g is in where.
func (p *Problem) matches(g int, where map[string]string) bool {
	for n, level := range where {
		if n == p.Histories.CohortColumn {
			n = Cohort
		}
		i := indexOf(p.Categories, n)
		if i < 0 {
			continue // the one cohort of the study
		}
		if p.Levels[i][p.Classes[g].Level[i]] != level {
			return false
		}
	}
	return true
}

// holds fixes slots at known values.
func (p *Problem) holds(holds []Hold) error {
	river := &p.Histories.River
	for _, hold := range holds {
		for g := range p.Classes {
			if !p.matches(g, hold.Where) {
				continue
			}
			t := &p.Classes[g].Tally
			a := -1
			if hold.Reach >= 0 {
				a = p.Layout.Survival(hold.Reach)
				if hold.Value == 0 && t.Alive[hold.Reach] > 0 {
					return errors.New(history.Say("survival %s is held at 0, but %d fish were detected below", river.Reach(hold.Reach), t.Alive[hold.Reach]))
				}
			} else {
				a = p.Layout.Detection(hold.Row)
				if hold.Value == 0 && t.RowSeen[hold.Row] > 0 {
					return errors.New(history.Say("detection at %s is held at 0, but %d fish were detected there", river.RowLabel(hold.Row), t.RowSeen[hold.Row]))
				}
				if hold.Value == 1 && t.RowMissed[hold.Row] > 0 {
					return errors.New(history.Say("detection at %s is held at 1, but %d fish detected downstream were not detected there", river.RowLabel(hold.Row), t.RowMissed[hold.Row]))
				}
			}
			p.Design.Links[g][a] = likelihood.Link{Kind: likelihood.Fixed, Value: hold.Value}
		}
	}
	return nil
}

// testPasses adds the passes of test tags to the counts of their row.
func (p *Problem) testPasses(tests []TestPasses) error {
	river := &p.Histories.River
	for _, t := range tests {
		a := p.Layout.Detection(t.Row)
		label := river.RowLabel(t.Row)
		at := -1
		for g := range p.Classes {
			if !p.matches(g, t.Where) {
				continue
			}
			if p.Design.Varies(g, a) {
				return fmt.Errorf("test passes at %s: the model lets detection there differ between fish by a number, which a test tag does not have", label)
			}
			if at >= 0 && !sameSlot(p.Design, at, g, a) {
				return fmt.Errorf("test passes at %s: the model lets detection there differ between %s; say which of them the test tag stands for with where = {…} in [[test_passes]], or use a detection model without them", label, strings.Join(p.DetectionCategories, " and "))
			}
			if at < 0 {
				at = g
			}
		}
		if at < 0 {
			continue
		}
		z := make([]float64, p.Design.Numbers)
		z[0] = 1
		u := likelihood.NewUnit(p.Layout, at, z)
		u.Seen[t.Row] = float64(t.Read)
		u.Missed[t.Row] = float64(t.Passes - t.Read)
		p.Data.Units = append(p.Data.Units, u)
		p.testUnits++
	}
	return nil
}

func sameSlot(d *likelihood.Design, g, h, a int) bool {
	if d.Links[g][a] != d.Links[h][a] || len(d.Slots[g][a]) != len(d.Slots[h][a]) {
		return false
	}
	for i, e := range d.Slots[g][a] {
		if d.Slots[h][a][i] != e {
			return false
		}
	}
	return true
}
