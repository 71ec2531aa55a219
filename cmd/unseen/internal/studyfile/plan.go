package studyfile

import (
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/plan"
	"example.org/unseen/history/study"
)

// ForPlan writes the plan file of p, to be changed by hand. Values are rounded
// to three decimals. It returns an error when the plan's fish differ by more
// than the cohort, for which a plan file has no words.
func ForPlan(w io.Writer, p *plan.Plan, source string) error {
	if len(p.Categories) > 0 {
		return fmt.Errorf("in a plan file fish differ by cohort only, not by %s; fit a model without it", strings.Join(p.Categories, ", "))
	}
	var b builder
	b.line("# Written by `unseen plan` from " + source + ". What is supposed can be changed:")
	b.line("# a number from 0 to 1, or a range [lowest, highest].")
	if p.Title != "" {
		b.key("title", study.Quote(p.Title))
	}
	if p.Level != 0 && p.Level != 0.95 {
		b.key("level", study.FormatNumber(p.Level))
	}
	// The first cohort's values stand at the sites, what others have of their own with them.
	usual := p.Cohorts[0]
	for k := range p.River.Sites {
		s := &p.River.Sites[k]
		rows := make([]study.Row, len(s.Rows))
		for i, r := range s.Rows {
			rows[i].Name = r
		}
		b.site(&study.Site{Name: s.Name, Km: s.Km, Days: s.Days, Rows: rows, Attributes: s.Attributes})
		if k == 0 {
			continue
		}
		b.key("survival", supposed(p.Values[usual.Survival[k-1]]))
		values, tests, working := map[string]string{}, map[string]string{}, map[string]string{}
		if usual.SiteWorking != nil && usual.SiteWorking[k] < 1 {
			working[""] = study.FormatNumber(round(usual.SiteWorking[k]))
		}
		for i := range s.RowCount() {
			row := p.River.FirstRow(k) + i
			name := ""
			if s.Divided() {
				name = s.Rows[i]
			}
			values[name] = supposed(p.Values[usual.Detection[row]])
			if rowWorking(&usual, k, row) < 1 {
				working[name] = study.FormatNumber(round(usual.Working[row]))
			}
			for _, t := range p.TestPasses {
				if t.Row == row {
					tests[name] = strconv.Itoa(t.Passes)
				}
			}
		}
		b.byRow("detection", values)
		b.byRow("test_passes", tests)
		b.byRow("working_share", working)
		if p.Removed != nil && p.Removed[k] > 0 {
			b.key("removed", study.FormatNumber(round(p.Removed[k])))
		}
	}
	for i := range p.Cohorts {
		c := &p.Cohorts[i]
		b.table("[[cohort]]")
		b.key("name", study.Quote(c.Name))
		b.key("fish", strconv.Itoa(c.Fish))
		if c.Entry > 0 {
			b.key("site", study.Quote(p.River.Sites[c.Entry].Name))
		}
		survival, detection := map[string]string{}, map[string]string{}
		for k, v := range c.Survival {
			if k >= c.Entry && v != usual.Survival[k] {
				survival[p.River.Reach(k)] = supposed(p.Values[v])
			}
		}
		for row, v := range c.Detection {
			if v != usual.Detection[row] {
				detection[p.River.RowLabel(row)] = supposed(p.Values[v])
			}
		}
		working := map[string]string{}
		for k, v := range c.SiteWorking {
			if p.River.Sites[k].Divided() && (usual.SiteWorking == nil || round(v) != round(usual.SiteWorking[k])) {
				working[p.River.Sites[k].Name] = study.FormatNumber(round(v))
			}
		}
		for row, k := range p.River.SiteOfRow() {
			if v := c.Working; v != nil && round(v[row]) != round(rowWorking(&usual, k, row)) {
				working[p.River.RowLabel(row)] = study.FormatNumber(round(v[row]))
			}
		}
		for _, x := range []struct {
			key string
			m   map[string]string
		}{{"survival", survival}, {"detection", detection}, {"working_share", working}} {
			if len(x.m) > 0 {
				b.key(x.key, inline(x.m))
			}
		}
	}
	for _, h := range p.Holds {
		b.planHold(p, &h)
	}
	b.models([]study.Model{p.Spec.InStudy("as fitted")})
	_, err := w.Write(b.Bytes())
	return err
}

// rowWorking is what the file says of a row at its site, where not of all rows
// together.
func rowWorking(usual *plan.Cohort, k, row int) float64 {
	if usual.Working == nil || usual.SiteWorking != nil && usual.SiteWorking[k] < 1 {
		return 1
	}
	return usual.Working[row]
}

func (b *builder) planHold(p *plan.Plan, h *model.Hold) {
	b.table("[[hold]]")
	if h.Reach >= 0 {
		b.key("reach", study.Quote(p.River.Reach(h.Reach)))
		b.key("survival", study.FormatNumber(h.Value))
	} else {
		site, row, _ := strings.Cut(p.River.RowLabel(h.Row), "/")
		b.place(site, row)
		b.key("detection", study.FormatNumber(h.Value))
	}
	b.where(h.Where)
}

// byRow is a value of each row; of an undivided site, whose row has no name,
// or where all rows have the same, it is one.
func (b *builder) byRow(key string, values map[string]string) {
	distinct := map[string]bool{}
	for _, v := range values {
		distinct[v] = true
	}
	one, undivided := values[""]
	switch {
	case len(values) == 0:
	case undivided:
		b.key(key, one)
	case len(distinct) == 1 && key == "detection":
		b.key(key, slices.Collect(maps.Keys(distinct))[0])
	default:
		b.key(key, inline(values))
	}
}

func supposed(v plan.Value) string {
	if v.Low == v.High {
		return study.FormatNumber(round(v.Low))
	}
	return "[" + study.FormatNumber(round(v.Low)) + ", " + study.FormatNumber(round(v.High)) + "]"
}

// round is to three decimals; what is not 0 stays above it, as the file asks.
func round(x float64) float64 { return max(0.001, math.Round(1000*x)/1000) }
