package model

import (
	"fmt"
	"math"

	"example.org/unseen/history"
	"example.org/unseen/history/study"
)

// WorkingShare is the name under which the share of a cohort's passage days on
// which a site worked can stand in detection terms.
const WorkingShare = "working_share"

// FromStudy is the input that a study file and its histories make: histories,
// held values and test passes by the names of reaches, sites and rows. share
// is, by cohort and site, the share of passages that fell into the site's
// working windows (nil where the study has no times): where it is 0 detection
// is held at 0. conditions may be nil.
func FromStudy(st *study.Study, h *history.Histories, share [][]float64, conditions *history.Conditions) (Input, error) {
	in := Input{Histories: h, Missing: st.Missing, Location: st.Location}
	river := &h.River
	row := func(pos study.Pos, site, name string) (from, to int, err error) {
		k := river.SiteIndex(site)
		if k < 1 {
			return 0, 0, fmt.Errorf("%s: %q is no site below the first", pos, site)
		}
		s := &river.Sites[k]
		from = river.FirstRow(k)
		if name == "" {
			return from, from + s.RowCount(), nil
		}
		for i, r := range s.Rows {
			if r == name {
				return from + i, from + i + 1, nil
			}
		}
		return 0, 0, fmt.Errorf("%s: site %q has no row %q", pos, site, name)
	}
	for _, hold := range st.Holds {
		if hold.Reach != "" {
			reach := -1
			for k := range len(river.Sites) - 1 {
				if river.Reach(k) == hold.Reach {
					reach = k
				}
			}
			if reach < 0 {
				return in, fmt.Errorf("%s: there is no reach %q", hold.Pos, hold.Reach)
			}
			in.Holds = append(in.Holds, Hold{Reach: reach, Row: -1, Value: hold.Survival, Where: hold.Where})
			continue
		}
		from, to, err := row(hold.Pos, hold.Site, hold.Row)
		if err != nil {
			return in, err
		}
		if math.IsNaN(hold.Detection) {
			return in, fmt.Errorf("%s: a hold of a site needs detection = …", hold.Pos)
		}
		for b := from; b < to; b++ {
			in.Holds = append(in.Holds, Hold{Reach: -1, Row: b, Value: hold.Detection, Where: hold.Where})
		}
	}
	for _, t := range st.TestPasses {
		from, to, err := row(t.Pos, t.Site, t.Row)
		if err != nil {
			return in, err
		}
		if to-from > 1 {
			return in, fmt.Errorf("%s: site %q has several rows; say which the test tag passed with row = …", t.Pos, t.Site)
		}
		in.TestPasses = append(in.TestPasses, TestPasses{Row: from, Passes: t.Passes, Read: t.Read, Where: t.Where})
	}
	in.working(share)
	if conditions != nil {
		c, err := h.CohortConditions(conditions)
		if err != nil {
			return in, err
		}
		in.Conditions = append(in.Conditions, c...)
	}
	return in, nil
}

// working makes a condition of the working shares where they differ from 1,
// and holds detection at 0 where a site did not work at all.
func (in *Input) working(share [][]float64) {
	if share == nil {
		return
	}
	river := &in.Histories.River
	c := history.CohortCondition{Name: WorkingShare}
	partly := false
	for g, row := range share {
		mean := make([]float64, len(river.Sites))
		for k := range mean {
			// Where no passage is known nothing speaks against full work.
			mean[k] = 1
			if k < 1 || math.IsNaN(row[k]) {
				continue
			}
			mean[k] = row[k]
			partly = partly || row[k] < 1
			if row[k] > 0 {
				continue
			}
			where := map[string]string{}
			if len(in.Histories.Cohorts) > 1 {
				where[Cohort] = in.Histories.Cohorts[g]
			}
			for b := river.FirstRow(k); b < river.FirstRow(k)+river.Sites[k].RowCount(); b++ {
				in.Holds = append(in.Holds, Hold{Reach: -1, Row: b, Value: 0, Where: where})
			}
		}
		c.Mean = append(c.Mean, mean)
	}
	if partly {
		// A share has no spread within a cohort.
		c.Between = 1
		in.Conditions = append(in.Conditions, c)
	}
}

// SpecOf is the words of one model of the study file.
func SpecOf(m study.Model) Spec {
	s := Spec{Name: m.Name}
	for _, part := range Parts() {
		s.SetTerms(part, m.Terms[string(part)])
		s.SetLink(part, m.Links[string(part)])
	}
	return s
}

// InStudy is the spec as one model of a study file, which [SpecOf] reads back.
func (s Spec) InStudy(name string) study.Model {
	m := study.Model{Name: name, Terms: map[string]string{}, Links: map[string]string{}}
	for _, part := range Parts() {
		m.Terms[string(part)] = s.Terms(part)
		if f := part.of().link; f != nil {
			m.Links[string(part)] = *f(&s)
		}
	}
	return m
}
