package model

import (
	"fmt"
	"math"
	"slices"

	"example.org/unseen/history"
	"example.org/unseen/history/study"
)

// WorkingShare is the name under which the share of a cohort's passage days on
// which a site worked can stand in detection terms.
const WorkingShare = "working_share"

// FromStudy is the input that a study file and its histories make: histories,
// held values and test passes by the names of reaches, sites and rows. share
// is, by cohort and site, the share of passages that fell into the site's
// working windows (nil where the study has no times). conditions may be nil.
func FromStudy(st *study.Study, h *history.Histories, share [][]float64, conditions *history.Conditions) (Input, error) {
	if err := st.Check(); err != nil {
		return Input{}, err
	}
	if h == nil {
		return Input{}, h.Check()
	}
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
	if err := in.working(st, share); err != nil {
		return in, err
	}
	if conditions != nil {
		c, err := h.CohortConditions(conditions)
		if err != nil {
			return in, err
		}
		in.Conditions = append(in.Conditions, c...)
	}
	return in, nil
}

// working takes the windows of the sites and rows.
func (in *Input) working(st *study.Study, share [][]float64) error {
	if len(st.Sites) != len(in.Histories.River.Sites) {
		return nil
	}
	if slices.Contains(st.Rules.Off, "outside_working") && slices.ContainsFunc(st.Sites, func(s study.Site) bool { return s.HasWindows() }) {
		return fmt.Errorf("%s: outside_working is switched off, but sites have working windows: sightings from outside a window cannot count while the likelihood takes the rows for at rest there. Take one of the two out", st.Rules.OffPos)
	}
	for k := 1; k < len(st.Sites); k++ {
		s := &st.Sites[k]
		if len(s.Rows) == 0 {
			in.Working = append(in.Working, s.Working)
		}
		for _, r := range s.Rows {
			in.Working = append(in.Working, append(slices.Clip(s.Working), r.Working...))
		}
	}
	if !slices.ContainsFunc(in.Working, func(w []study.Window) bool { return w != nil }) {
		in.Working = nil
	}
	in.WorkingShare = share
	return nil
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
