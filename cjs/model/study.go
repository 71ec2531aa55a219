package model

import (
	"fmt"
	"math"

	"example.org/unseen/history"
	"example.org/unseen/history/study"
)

// FromStudy is the input that a study file and its histories make: histories,
// held values and test passes by the names of reaches, sites and rows.
func FromStudy(st *study.Study, h *history.Histories) (Input, error) {
	in := Input{Histories: h, Missing: st.Missing}
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
	return in, nil
}

// SpecOf is the words of one model of the study file.
func SpecOf(m study.Model) Spec {
	return Spec{Name: m.Name, Survival: m.Survival, Detection: m.Detection, SurvivalLink: m.Link, DetectionLink: m.DetectionLink}
}
