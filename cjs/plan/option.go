package plan

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"

	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// OptionName is an option in words.
func (p *Plan) OptionName(o *Option) string {
	switch {
	case o == nil:
		return ""
	case o.Name != "":
		return o.Name
	case o.What == "fish":
		return history.Say("%d more fish", o.Fish)
	case o.What == "row" && !math.IsNaN(o.Detection):
		return fmt.Sprintf("a further row at %s, detection %.2f", o.Site, o.Detection)
	case o.What == "row":
		return "a further row at " + o.Site + ", as good as the first"
	case o.What == "site" && o.Site == standardSite(o.Km):
		return fmt.Sprintf("a site at %s, detection %.2f", o.Site, o.Detection)
	case o.What == "site":
		return fmt.Sprintf("a site %s at km %g, detection %.2f", o.Site, o.Km, o.Detection)
	case o.What == "antennas":
		return fmt.Sprintf("better antennas at %s, detection %.2f", o.Site, o.Detection)
	case o.What == "drop":
		return "without " + o.Site
	case o.What == "spread":
		return fmt.Sprintf("the same fish, each cohort spread over %d", o.Cohorts)
	default:
		return history.Say("%d test passes at %s", o.Passes, o.Site)
	}
}

// StandardOptions are the changes compared when the plan names none: a quarter,
// a half and twice as many fish; at each site a further row, antennas that
// miss half as many, or none at all; a site in the middle of each reach, where
// kilometres are known; each cohort spread over two.
func (p *Plan) StandardOptions() []Option {
	none := func(o Option) Option {
		if o.Detection == 0 {
			o.Detection = math.NaN()
		}
		if o.What != "site" {
			o.Km = math.NaN()
		}
		o.Survival, o.Cost = math.NaN(), math.NaN()
		return o
	}
	var out []Option
	n := p.Fish()
	for _, more := range []int{(n + 3) / 4, (n + 1) / 2, n} {
		out = append(out, none(Option{What: "fish", Fish: more}))
	}
	var mean float64
	sites := len(p.River.Sites)
	for k := 1; k < sites; k++ {
		s := &p.River.Sites[k]
		d := p.siteDetection(k)
		mean += d / float64(sites-1)
		out = append(out, none(Option{What: "row", Site: s.Name}))
		if !s.Divided() && !p.held(func(h *model.Hold) bool { return h.Row == p.River.FirstRow(k) }) {
			out = append(out, none(Option{What: "antennas", Site: s.Name, Detection: (1 + d) / 2}))
		}
		if sites > 2 && !p.enters(k) {
			out = append(out, none(Option{What: "drop", Site: s.Name}))
		}
	}
	for k := 0; k+1 < sites; k++ {
		a, b := p.River.Sites[k].Km, p.River.Sites[k+1].Km
		if !math.IsNaN(a) && !math.IsNaN(b) {
			km := math.Round(5*(a+b)) / 10
			name := standardSite(km)
			if p.River.SiteIndex(name) < 0 && km != a && km != b {
				out = append(out, none(Option{What: "site", Site: name, Km: km, Detection: mean}))
			}
		}
	}
	return append(out, none(Option{What: "spread", Cohorts: 2}))
}

// standardSite is the name of a site that has none yet.
func standardSite(km float64) string { return fmt.Sprintf("km %g", km) }

// siteDetection is the detection at the whole of site k, averaged over the fish.
func (p *Plan) siteDetection(k int) float64 {
	v := p.at(nil)
	var sum, fish float64
	for i := range p.Cohorts {
		c := &p.Cohorts[i]
		if c.Entry >= k {
			continue
		}
		miss := 1.0
		for b := p.River.FirstRow(k); b < p.River.FirstRow(k+1); b++ {
			miss *= 1 - v[c.Detection[b]]
		}
		sum += float64(c.Fish) * (1 - miss)
		fish += float64(c.Fish)
	}
	if fish == 0 {
		return 0.5
	}
	return sum / fish
}

func (p *Plan) held(is func(h *model.Hold) bool) bool {
	return slices.ContainsFunc(p.Holds, func(h model.Hold) bool { return is(&h) })
}

func (p *Plan) enters(k int) bool {
	return slices.ContainsFunc(p.Cohorts, func(c Cohort) bool { return c.Entry == k })
}

// Apply is the plan changed by an option. The error says why it cannot be.
func (p *Plan) Apply(o *Option) (*Plan, error) {
	if err := p.Check(); err != nil {
		return nil, err
	}
	if err := p.checkOption(o); err != nil {
		return nil, err
	}
	q := p.clone()
	k := p.River.SiteIndex(o.Site)
	var err error
	switch o.What {
	case "fish":
		for i, more := range p.share(o.Fish) {
			q.Cohorts[i].Fish += more
		}
	case "row":
		q.addRow(k, o.Detection)
	case "site":
		err = q.addSite(o)
	case "antennas":
		q.setDetection(k, o.Detection)
	case "drop":
		err = q.dropSite(k)
	case "spread":
		q.spread(o.Cohorts)
	case "test passes":
		for b := p.River.FirstRow(k); b < p.River.FirstRow(k+1); b++ {
			q.TestPasses = append(q.TestPasses, model.TestPasses{Row: b, Passes: o.Passes})
		}
	}
	if err != nil {
		return nil, err
	}
	return q, q.Check()
}

// share parts n fish over the cohorts in proportion, the remainder to those
// with the largest fractions.
func (p *Plan) share(n int) []int {
	total := float64(p.Fish())
	left := n
	out := make([]int, len(p.Cohorts))
	order := make([]int, len(p.Cohorts))
	fraction := make([]float64, len(p.Cohorts))
	for i := range p.Cohorts {
		share := float64(n) * float64(p.Cohorts[i].Fish) / total
		out[i], order[i] = int(share), i
		fraction[i] = share - math.Floor(share)
		left -= out[i]
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(fraction[b], fraction[a]) })
	for _, i := range order[:left] {
		out[i]++
	}
	return out
}

// WithFish is the plan with n fish in all, in its proportions, at least one of
// each cohort; the plan itself where it has none.
func (p *Plan) WithFish(n int) *Plan {
	if p.Check() != nil || n < 1 || n > math.MaxInt32 {
		return p
	}
	q := p.clone()
	for i, share := range p.share(n) {
		q.Cohorts[i].Fish = max(1, share)
	}
	return q
}

// add is the index of a new value.
func (p *Plan) add(about string, v Value) int {
	v.About = about
	p.Values = append(p.Values, v)
	return len(p.Values) - 1
}

// addRow adds a row at site k; a detection of NaN is that of its last row.
func (p *Plan) addRow(k int, detection float64) {
	site := &p.River.Sites[k]
	at := p.River.FirstRow(k + 1)
	n := site.RowCount() + 1
	rows := slices.Clone(site.Rows)
	if len(rows) == 0 {
		rows = []string{"row 1"}
	}
	site.Rows = append(rows, fmt.Sprintf("row %d", n))
	own := -1
	if !math.IsNaN(detection) {
		own = p.add("detection at "+p.River.RowLabel(at), Value{Low: detection, High: detection})
	}
	for i := range p.Cohorts {
		c := &p.Cohorts[i]
		v := own
		if v < 0 {
			v = c.Detection[at-1]
		}
		c.Detection = slices.Insert(c.Detection, at, v)
		if c.Working != nil {
			c.Working = slices.Insert(c.Working, at, c.Working[at-1])
		}
	}
	p.shiftRows(at, 1)
}

// shiftRows renumbers what speaks of rows from the old row at on by n.
func (p *Plan) shiftRows(at, n int) {
	for i := range p.Holds {
		if p.Holds[i].Row >= at {
			p.Holds[i].Row += n
		}
	}
	for i := range p.TestPasses {
		if p.TestPasses[i].Row >= at {
			p.TestPasses[i].Row += n
		}
	}
}

func (p *Plan) setDetection(k int, detection float64) {
	v := p.add("detection at "+p.River.Sites[k].Name, Value{Low: detection, High: detection})
	for i := range p.Cohorts {
		for b := p.River.FirstRow(k); b < p.River.FirstRow(k+1); b++ {
			p.Cohorts[i].Detection[b] = v
		}
	}
}

// power is a value to the power of a share: survival of part of a reach, at
// the same mortality per kilometre.
func (v Value) power(share float64) Value {
	return Value{Low: math.Pow(v.Low, share), High: math.Pow(v.High, share)}
}

// addSite puts a site into the reach where its km lies, or below the last
// site. Survival is shared out by length.
func (p *Plan) addSite(o *Option) error {
	sites := p.River.Sites
	last := len(sites) - 1
	if math.IsNaN(sites[0].Km) {
		return fmt.Errorf("a site at a km needs the km of the others")
	}
	if p.Conditions != nil {
		return fmt.Errorf("the model uses conditions of the sites (%s); a new site has none", p.Conditions[0].Name)
	}
	sign := 1.0 // downstream
	if sites[last].Km < sites[0].Km {
		sign = -1
	}
	at := 0 // the new site's index
	for at <= last && sign*sites[at].Km < sign*o.Km {
		at++
	}
	if at == 0 || at <= last && sites[at].Km == o.Km {
		return fmt.Errorf("km %g is not below %s, or there is a site there already", o.Km, sites[0].Name)
	}
	reach := at - 1 // the reach the site parts, or the last one
	above := math.Abs(o.Km - sites[reach].Km)
	site := history.Site{Name: o.Site, Km: o.Km, Days: math.NaN()}
	like := &sites[min(at, last)]
	site.Attributes = maps.Clone(like.Attributes)
	first, second := map[int]int{}, map[int]int{} // old value → new values
	var share float64
	if at <= last {
		share = above / p.River.ReachKm(reach)
		site.Days = share * like.Days
		below := *like
		below.Days *= 1 - share
		sites[at] = below
	} else {
		share = above / p.River.ReachKm(last-1)
		site.Days = share * like.Days
	}
	p.River.Sites = slices.Insert(sites, at, site)
	part := func(m map[int]int, v int, about string, share float64) int {
		if n, ok := m[v]; ok {
			return n
		}
		m[v] = p.add(about, p.Values[v].power(share))
		return m[v]
	}
	row := p.River.FirstRow(at)
	detection := p.add("detection at "+o.Site, Value{Low: o.Detection, High: o.Detection})
	end := -1
	if !math.IsNaN(o.Survival) && at > last {
		end = p.add("survival "+p.River.Reach(at-1), Value{Low: o.Survival, High: o.Survival})
	}
	for i := range p.Cohorts {
		c := &p.Cohorts[i]
		if at <= last {
			old := c.Survival[reach]
			c.Survival[reach] = part(first, old, "survival "+p.River.Reach(reach), share)
			c.Survival = slices.Insert(c.Survival, at, part(second, old, "survival "+p.River.Reach(at), 1-share))
		} else {
			v := end
			if v < 0 {
				v = part(first, c.Survival[last-1], "survival "+p.River.Reach(at-1), share)
			}
			c.Survival = append(c.Survival, v)
		}
		c.Detection = slices.Insert(c.Detection, row, detection)
		if c.Working != nil {
			c.Working = slices.Insert(c.Working, row, 1)
		}
		if c.SiteWorking != nil {
			c.SiteWorking = slices.Insert(c.SiteWorking, at, 1)
		}
		if c.Entry >= at {
			c.Entry++
		}
	}
	if p.Removed != nil {
		p.Removed = slices.Insert(p.Removed, at, 0)
	}
	p.shiftRows(row, 1)
	var more []model.Hold
	for i := range p.Holds {
		h := &p.Holds[i]
		switch {
		case h.Reach > reach:
			h.Reach++
		case h.Reach == reach && at <= last:
			rest := *h
			rest.Reach, rest.Value = at, math.Pow(h.Value, 1-share)
			h.Value = math.Pow(h.Value, share)
			more = append(more, rest)
		}
	}
	p.Holds = append(p.Holds, more...)
	return nil
}

// dropSite takes site k away; its two reaches become one.
func (p *Plan) dropSite(k int) error {
	last := len(p.River.Sites) - 1
	if last < 2 {
		return fmt.Errorf("it is the only site where fish are detected")
	}
	if p.enters(k) {
		return fmt.Errorf("fish are released there")
	}
	if k == last && p.enters(last-1) {
		return fmt.Errorf("fish are released at the site above and would be detected nowhere")
	}
	if k < last {
		if len(p.Conditions) > 0 {
			return fmt.Errorf("the model uses conditions of the sites (%s)", p.Conditions[0].Name)
		}
		if p.held(func(h *model.Hold) bool { return h.Reach == k-1 || h.Reach == k }) {
			return fmt.Errorf("survival is held in a reach that ends or starts there")
		}
	}
	from, to := p.River.FirstRow(k), p.River.FirstRow(k+1)
	if k < last {
		below := p.River.Sites[k+1]
		below.Days += p.River.Sites[k].Days
		p.River.Sites[k+1] = below
	}
	p.River.Sites = slices.Delete(p.River.Sites, k, k+1)
	joined := map[[2]int]int{}
	for i := range p.Cohorts {
		c := &p.Cohorts[i]
		if k < last {
			two := [2]int{c.Survival[k-1], c.Survival[k]}
			if _, ok := joined[two]; !ok {
				m := p.Values[two[0]].Middle() * p.Values[two[1]].Middle()
				joined[two] = p.add("survival "+p.River.Reach(k-1), Value{Low: m, High: m})
			}
			c.Survival[k-1] = joined[two]
			c.Survival = slices.Delete(c.Survival, k, k+1)
		} else {
			c.Survival = c.Survival[:k-1]
		}
		c.Detection = slices.Delete(c.Detection, from, to)
		if c.Working != nil {
			c.Working = slices.Delete(c.Working, from, to)
		}
		if c.SiteWorking != nil {
			c.SiteWorking = slices.Delete(c.SiteWorking, k, k+1)
		}
		if c.Entry > k {
			c.Entry--
		}
	}
	if p.Removed != nil {
		p.Removed = slices.Delete(p.Removed, k, k+1)
	}
	gone := func(row int) bool { return row >= from && row < to }
	p.Holds = slices.DeleteFunc(p.Holds, func(h model.Hold) bool {
		return gone(h.Row) || k == last && h.Reach == k-1
	})
	p.TestPasses = slices.DeleteFunc(p.TestPasses, func(t model.TestPasses) bool { return gone(t.Row) })
	for i := range p.Holds {
		if p.Holds[i].Reach >= k {
			p.Holds[i].Reach--
		}
	}
	p.shiftRows(to, from-to)
	return nil
}

// spread parts every cohort into n of nearly the same number of fish.
func (p *Plan) spread(n int) {
	var out []Cohort
	for i := range p.Cohorts {
		c := &p.Cohorts[i]
		for j := range n {
			part := *c
			part.Name = fmt.Sprintf("%s %d", c.Name, j+1)
			if part.Fish = c.Fish*(j+1)/n - c.Fish*j/n; part.Fish == 0 {
				continue
			}
			part.own()
			out = append(out, part)
		}
	}
	var names []string
	old := p.CohortNames()
	p.Cohorts = out
	names = p.CohortNames()
	where := func(w map[string]string) []map[string]string {
		of, ok := w[model.Cohort]
		if !ok {
			return []map[string]string{w}
		}
		var all []map[string]string
		for j := range n {
			name := fmt.Sprintf("%s %d", of, j+1)
			if slices.Contains(names, name) {
				m := maps.Clone(w)
				m[model.Cohort] = name
				all = append(all, m)
			}
		}
		return all
	}
	var holds []model.Hold
	for _, h := range p.Holds {
		for _, w := range where(h.Where) {
			h.Where = w
			holds = append(holds, h)
		}
	}
	p.Holds = holds
	for i := range p.TestPasses {
		if t := &p.TestPasses[i]; t.Where != nil {
			t.Where = where(t.Where)[0]
		}
	}
	for i := range p.Conditions {
		c := p.Conditions[i]
		var mean [][]float64
		for _, name := range names {
			for g, of := range old {
				for j := range n {
					if name == fmt.Sprintf("%s %d", of, j+1) {
						mean = append(mean, c.Mean[g])
					}
				}
			}
		}
		p.Conditions[i] = history.CohortCondition{Name: c.Name, Mean: mean}
	}
}
