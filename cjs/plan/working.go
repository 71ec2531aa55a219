package plan

import (
	"fmt"
	"slices"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/likelihood"
)

// state is a plan at one set of values: its model, coefficients and releases.
type state struct {
	plan    *Plan
	problem *model.Problem
	x       []float64
	// releases are those of a class, or of a cohort where rows do not always work.
	releases []likelihood.Released
	fixed    []likelihood.Unit
	seen     []float64 // cohort → fish expected to be seen at all
	off      float64   // the largest difference between a supposed value and the model's
	offAt    string
	z        float64
}

// Rows that work for a share of the passages: together, where their site stands
// still, or each by itself.

// alwaysWorks tells whether all rows do.
func (p *Plan) alwaysWorks() bool {
	less := func(v float64) bool { return v < 1 }
	return !slices.ContainsFunc(p.Cohorts, func(c Cohort) bool {
		return slices.ContainsFunc(c.SiteWorking, less) || slices.ContainsFunc(c.Working, less)
	})
}

// AlwaysWorks says why a plan cannot be simulated: its rows stand still, and it does
// not know when.
func (p *Plan) AlwaysWorks() error {
	if p == nil {
		return p.Check()
	}
	if p.alwaysWorks() {
		return nil
	}
	return fmt.Errorf("the plan has rows that work for a share of the passages, but does not say when; simulate a study with an outage, or take working_share out")
}

// workingShare is the mean over all fish that can come to site k of a share of each
// cohort's passages there.
func (p *Plan) workingShare(k int, share func(c *Cohort) float64) float64 {
	var at, all float64
	for i := range p.Cohorts {
		if c := &p.Cohorts[i]; c.Entry < k {
			at, all = at+float64(c.Fish)*share(c), all+float64(c.Fish)
		}
	}
	if all == 0 {
		return 1
	}
	return at / all
}

// noteWorking says what is supposed of the sites and rows that do not work all the time.
func (p *Plan) noteWorking() {
	if p.alwaysWorks() {
		return
	}
	for k := 1; k < len(p.River.Sites); k++ {
		note := func(at string, of, share func(c *Cohort) float64) {
			if p.workingShare(k, of) < 1 {
				p.note("%s is assumed to work for %.1f %% of the passages there.", at, 100*p.workingShare(k, share))
			}
		}
		site := func(c *Cohort) float64 { site, _ := c.works(k, p.River.FirstRow(k)); return site }
		note(p.River.Sites[k].Name, site, site)
		for b := p.River.FirstRow(k); b < p.River.FirstRow(k+1); b++ {
			row := func(c *Cohort) float64 { _, row := c.works(k, b); return row }
			note(p.River.RowLabel(b), row, func(c *Cohort) float64 { return site(c) * row(c) })
		}
	}
	p.note("Detection is that at full work. The working shares are taken as known, and the outages of different sites, and of single rows, as independent of each other. A fit also knows when fish were detected, so that its standard errors come out smaller, most where several sites are idle together.")
}

// atWork are, by site, the sets of rows that work together as fish of a cohort pass; nil
// where all always do.
func (p *Plan) atWork(c *Cohort) [][]likelihood.Work {
	if p.alwaysWorks() {
		return nil
	}
	out := make([][]likelihood.Work, len(p.River.Sites))
	for k := 1; k < len(out); k++ {
		out[k] = p.setsAtWork(c, k)
	}
	return out
}

// setsAtWork are the sets of rows of site k that work together as fish of a cohort pass.
func (p *Plan) setsAtWork(c *Cohort, k int) []likelihood.Work {
	first := p.River.FirstRow(k)
	site, _ := c.works(k, first)
	out := []likelihood.Work{{Share: site}}
	for b := first; b < p.River.FirstRow(k+1); b++ {
		_, row := c.works(k, b)
		for i, n := 0, len(out); i < n; i++ {
			if row < 1 {
				out = append(out, likelihood.Work{Share: out[i].Share * (1 - row), Rows: out[i].Rows})
			}
			out[i].Share *= row
			out[i].Rows |= 1 << uint(b)
		}
	}
	if site < 1 {
		out = append(out, likelihood.Work{Share: 1 - site})
	}
	return out
}

// outages notes how the rows of a fit worked, and, where asked to, plans with the
// same shares of the passages of each cohort, class[i] being that of cohort i.
func (p *Plan) outages(f *cjs.Fit, class []int, again bool) error {
	if len(f.Working) == 0 {
		if again {
			p.note("All rows worked all the time in the study, and do so in the plan.")
		}
		return nil
	}
	river := &p.River
	if !again {
		for _, w := range f.Working {
			if w.Share < 1 {
				p.note("%s worked for %.1f %% of the passages there in the study; in the plan all rows work all the time, and detection is that at full work.", river.RowLabel(river.FirstRow(w.Site)+max(0, w.Row)), 100*w.Share)
			}
		}
		return nil
	}
	masks := river.SiteMasks()
	for i := range p.Cohorts {
		c := &p.Cohorts[i]
		c.SiteWorking, c.Working = slices.Repeat([]float64{1}, len(river.Sites)), slices.Repeat([]float64{1}, river.Rows())
		worked := func(k int, rows uint64) float64 {
			return f.AtWork(k, rows, func(g int) bool { return g == class[i] })
		}
		for _, w := range f.Working {
			b := river.FirstRow(w.Site) + max(0, w.Row)
			if c.Entry >= w.Site {
				continue
			}
			of := 1.0
			if w.Row >= 0 {
				of = worked(w.Site, masks[w.Site])
				c.SiteWorking[w.Site] = of
			}
			if c.Working[b] = 0; of > 0 {
				c.Working[b] = min(1, worked(w.Site, 1<<uint(b))/of)
			}
		}
	}
	p.noteWorking()
	return nil
}
