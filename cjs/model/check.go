package model

import (
	"fmt"
	"math"

	"example.org/unseen/history"
)

// Check refuses an input that breaks what a model is built on. Names that are
// not there are refused by [Build], which looks them up.
func (in *Input) Check() error {
	if err := in.Histories.Check(); err != nil {
		return err
	}
	river := &in.Histories.River
	if len(river.Sites) < 2 {
		return fmt.Errorf("the river has one site; a model needs one to release fish at and one below to detect them at")
	}
	switch in.Missing {
	case "", "drop", "mean":
	default:
		return fmt.Errorf("missing = %q; there are \"drop\" and \"mean\", and \"\" refuses", in.Missing)
	}
	for _, h := range in.Holds {
		if err := h.check(river); err != nil {
			return err
		}
	}
	for _, t := range in.TestPasses {
		if err := t.check(river); err != nil {
			return err
		}
	}
	if err := in.checkWorking(); err != nil {
		return err
	}
	for i := range in.Conditions {
		if err := checkCondition(&in.Conditions[i], in.Histories); err != nil {
			return err
		}
	}
	return nil
}

// checkWorking: windows of each row that end after they start, shares of each
// cohort and site.
func (in *Input) checkWorking() error {
	h := in.Histories
	rows, sites := h.River.Rows(), len(h.River.Sites)
	if in.Working != nil && len(in.Working) != rows {
		return fmt.Errorf("working windows of %d rows; the river has %d", len(in.Working), rows)
	}
	for b, windows := range in.Working {
		for _, w := range windows {
			if !w.From.IsZero() && !w.To.IsZero() && !w.From.Before(w.To) {
				return fmt.Errorf("%s worked from %v to %v; a window ends after it starts", h.River.RowLabel(b), w.From, w.To)
			}
		}
	}
	if in.WorkingShare != nil && len(in.WorkingShare) != len(h.Cohorts) {
		return fmt.Errorf("working shares of %d cohorts; there are %d", len(in.WorkingShare), len(h.Cohorts))
	}
	for c, row := range in.WorkingShare {
		if len(row) != sites {
			return fmt.Errorf("working shares of cohort %q at %d sites; there are %d", h.Cohorts[c], len(row), sites)
		}
	}
	return nil
}

// check: a hold is of one reach or of one row.
func (h *Hold) check(river *history.River) error {
	reaches, rows := len(river.Sites)-1, river.Rows()
	switch {
	case h.Reach >= 0 && h.Row >= 0 || h.Reach < 0 && h.Row < 0:
		return fmt.Errorf("a hold of reach %d and row %d; it is of one of them, and the other is -1", h.Reach, h.Row)
	case h.Reach >= reaches:
		return fmt.Errorf("a hold of reach %d; the river has the reaches 0 to %d", h.Reach, reaches-1)
	case h.Row >= rows:
		return fmt.Errorf("a hold of row %d; the river has the rows 0 to %d", h.Row, rows-1)
	case !(h.Value >= 0 && h.Value <= 1):
		return fmt.Errorf("a held probability is between 0 and 1, not %v", h.Value)
	}
	return nil
}

func (t *TestPasses) check(river *history.River) error {
	switch rows := river.Rows(); {
	case t.Row < 0 || t.Row >= rows:
		return fmt.Errorf("test passes over row %d; the river has the rows 0 to %d", t.Row, rows-1)
	case t.Passes < 0 || t.Read < 0 || t.Read > t.Passes:
		return fmt.Errorf("test passes at %s: %d read of %d; from none to all of them can be", river.RowLabel(t.Row), t.Read, t.Passes)
	}
	return nil
}

// checkCondition: one number for every cohort and site.
func checkCondition(c *history.CohortCondition, h *history.Histories) error {
	if len(c.Mean) != len(h.Cohorts) {
		return fmt.Errorf("%s has numbers of %d cohorts; there are %d", c.Name, len(c.Mean), len(h.Cohorts))
	}
	if c.Fish != nil && len(c.Fish) != len(c.Mean) {
		return fmt.Errorf("%s counts the fish of %d cohorts; there are %d", c.Name, len(c.Fish), len(c.Mean))
	}
	for g, row := range c.Mean {
		if c.Fish != nil && len(c.Fish[g]) != len(row) {
			return fmt.Errorf("%s counts the fish of cohort %q at %d sites; there are %d", c.Name, h.Cohorts[g], len(c.Fish[g]), len(row))
		}
		if len(row) != len(h.River.Sites) {
			return fmt.Errorf("%s has %d numbers for cohort %q; there are %d sites", c.Name, len(row), h.Cohorts[g], len(h.River.Sites))
		}
		for k, v := range row {
			if math.IsInf(v, 0) {
				return fmt.Errorf("%s of cohort %q at %s is %v; what is not known is NaN", c.Name, h.Cohorts[g], h.River.Sites[k].Name, v)
			}
		}
	}
	return nil
}
