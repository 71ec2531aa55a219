package plan

import (
	"fmt"
	"math"
	"slices"

	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// FromFile is the plan that a plan file describes.
func FromFile(f *File) (*Plan, error) {
	if f == nil {
		return nil, fmt.Errorf("there is no plan file; Load and Parse read one")
	}
	p := &Plan{Title: f.Study.Title, River: f.Study.River(), Level: f.Level, Costs: f.Costs}
	if err := p.River.Check(); err != nil {
		return nil, err
	}
	if err := f.fits(&p.River); err != nil {
		return nil, err
	}
	in, err := model.FromStudy(&f.Study, &history.Histories{River: p.River}, nil, nil)
	if err != nil {
		return nil, err
	}
	p.Holds = in.Holds
	if len(f.Study.Models) > 0 {
		p.Spec = model.SpecOf(f.Study.Models[0])
	}
	sites := len(p.River.Sites)
	p.Removed = make([]float64, sites)
	for k := range f.Supposed {
		p.Removed[k] = f.Supposed[k].Removed
	}
	// Values of the sites stand once, whatever the number of cohorts.
	survival, detection := make([]int, sites-1), make([]int, p.River.Rows())
	for k := 1; k < sites; k++ {
		survival[k-1] = p.value("survival "+p.River.Reach(k-1), f.Supposed[k].Survival)
		for i, s := range f.Supposed[k].Detection {
			b := p.River.FirstRow(k) + i
			detection[b] = p.value("detection at "+p.River.RowLabel(b), s)
			if n := f.Supposed[k].TestPasses[i]; n > 0 {
				p.TestPasses = append(p.TestPasses, model.TestPasses{Row: b, Passes: n})
			}
		}
	}
	for i := range f.Cohorts {
		x := &f.Cohorts[i]
		c := Cohort{Name: x.Name, Fish: x.Fish, Survival: append([]int(nil), survival...), Detection: append([]int(nil), detection...)}
		if x.Site != "" {
			c.Entry = p.River.SiteIndex(x.Site)
		}
		own := func(into *int, given Supposed, what string) {
			if given.Given() {
				*into = p.value(what+" of "+x.Name, given)
			}
		}
		for k := 1; k < sites; k++ {
			reach, site := p.River.Reach(k-1), p.River.Sites[k].Name
			own(&c.Survival[k-1], x.Survival[reach], "survival "+reach)
			for b := p.River.FirstRow(k); b < p.River.FirstRow(k+1); b++ {
				own(&c.Detection[b], x.Detection[site], "detection at "+p.River.RowLabel(b))
				if label := p.River.RowLabel(b); label != site {
					own(&c.Detection[b], x.Detection[label], "detection at "+label)
				}
			}
		}
		c.SiteWorking, c.Working = f.working(x, &p.River)
		p.Cohorts = append(p.Cohorts, c)
	}
	p.noteWorking()
	p.unused()
	return p, p.Check()
}

// fits tells what is supposed of no site or row, or not of each.
func (f *File) fits(r *history.River) error {
	if len(f.Supposed) != len(r.Sites) || len(r.Sites) < 2 {
		return fmt.Errorf("the plan supposes values of %d sites; there are %d, and a plan needs two", len(f.Supposed), len(r.Sites))
	}
	for k := 1; k < len(r.Sites); k++ {
		if n, x := r.Sites[k].RowCount(), &f.Supposed[k]; len(x.Detection) != n || len(x.TestPasses) != n {
			return fmt.Errorf("the plan supposes detection at %d rows of %s and test passes at %d; it has %d", len(x.Detection), r.Sites[k].Name, len(x.TestPasses), n)
		}
	}
	return nil
}

// working is what each site works for of the passages of a cohort, and each row of
// those; nil where nothing is said of any.
func (f *File) working(c *FileCohort, river *history.River) (sites, rows []float64) {
	sites, rows = slices.Repeat([]float64{1}, len(river.Sites)), slices.Repeat([]float64{1}, river.Rows())
	said := len(c.Working) > 0
	set := func(into *float64, v float64, label string) {
		if v > 0 {
			*into, said = v, true
		}
		if own, ok := c.Working[label]; ok {
			*into = own.Low
		}
	}
	for k := 1; k < len(river.Sites); k++ {
		x := &f.Supposed[k]
		if river.Sites[k].Divided() {
			set(&sites[k], x.SiteWorking, river.Sites[k].Name)
		}
		for i, v := range x.Working {
			b := river.FirstRow(k) + i
			set(&rows[b], v, river.RowLabel(b))
		}
	}
	if !said {
		return nil, nil
	}
	return sites, rows
}

// value adds a supposed value, once; what is not given is a held value, or
// above the entry of all fish, and has no part in the plan.
func (p *Plan) value(about string, s Supposed) int {
	v := Value{about, 0.5, 0.5}
	if s.Given() {
		v.Low, v.High = s.Low, s.High
	}
	p.Values = append(p.Values, v)
	return len(p.Values) - 1
}

// unused takes the range from values that no cohort uses.
func (p *Plan) unused() {
	used := make([]bool, len(p.Values))
	for i := range p.Cohorts {
		c := &p.Cohorts[i]
		for k := c.Entry; k < len(c.Survival); k++ {
			used[c.Survival[k]] = true
			for b := p.River.FirstRow(k + 1); b < p.River.FirstRow(k+2); b++ {
				used[c.Detection[b]] = true
			}
		}
	}
	for i := range p.Values {
		if v := &p.Values[i]; !used[i] {
			v.Low, v.High = v.Middle(), v.Middle()
		}
	}
}

// ranged are the values that are given as ranges.
func (p *Plan) ranged() []int {
	var out []int
	for i, v := range p.Values {
		if v.Low < v.High {
			out = append(out, i)
		}
	}
	return out
}

// MaxRanges is how many values may be ranges: every one is tried at its ends
// and its middle together with every other.
const MaxRanges = 7

func (p *Plan) tooManyRanges() error {
	if n := len(p.ranged()); n > MaxRanges {
		return fmt.Errorf("%d values are given as ranges; at most %d can be tried together: give the others as single numbers", n, MaxRanges)
	}
	return nil
}

// combinations calls f with every combination of low, middle and high of the
// ranged values, that of all middles left out.
func (p *Plan) combinations(f func(ends []int) error) error {
	ranged := p.ranged()
	ends := make([]int, len(p.Values))
	for i := range ends {
		ends[i] = 1
	}
	total := int(math.Pow(3, float64(len(ranged))))
	for n := range total {
		middle := true
		for j, m := 0, n; j < len(ranged); j, m = j+1, m/3 {
			ends[ranged[j]] = m % 3
			middle = middle && m%3 == 1
		}
		if middle {
			continue
		}
		if err := f(ends); err != nil {
			return err
		}
	}
	return nil
}
