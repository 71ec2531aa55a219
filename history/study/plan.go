package study

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"example.org/unseen/history"
)

// Plan is a plan file's content, checked in itself: the sites, cohorts and
// values supposed of a season to come.
type Plan struct {
	// Study holds what a plan file shares with a study file: Path, SHA256,
	// Title, Sites, Holds and Models. It has no data.
	Study Study
	// Level of the intervals; 0 when not given.
	Level float64
	// Want is the precision wanted, in words; "" when not given.
	Want    string
	WantPos Pos
	// Supposed stands beside Study.Sites.
	Supposed []SiteSupposed
	Cohorts  []PlanCohort
	Costs    PlanCosts
	Options  []PlanOption
}

// Supposed is a probability supposed to lie from Low to High; NaN when not given.
type Supposed struct {
	Pos       Pos
	Low, High float64
}

// Given tells whether there is a value.
func (s Supposed) Given() bool { return s.Low > 0 }

// SiteSupposed is what is supposed of a site.
type SiteSupposed struct {
	// Survival is that of the reach which ends here.
	Survival Supposed
	// Detection and TestPasses of each row; one entry at an undivided site,
	// none at the first site.
	Detection  []Supposed
	TestPasses []int
	// Removed is the share of the fish seen here that are taken out.
	Removed float64
}

// PlanCohort is a cohort to be released.
type PlanCohort struct {
	Pos  Pos
	Name string
	Fish int
	// Site is where they are released; "" is the first site.
	Site    string
	SitePos Pos
	// Survival by reach and Detection by "Site" or "Site/row", where the
	// cohort differs from what the sites say.
	Survival, Detection map[string]Supposed
}

// PlanCosts are what things cost, in any one currency; 0 when not given.
type PlanCosts struct {
	Given                                   bool
	Fish, Row, Site, Antennas, Cohort, Test float64
}

// PlanOption is a change of the plan to be compared.
type PlanOption struct {
	Pos Pos
	// What is one of [PlanOptions].
	What string
	Name string // of the option, or "" for words made of the others
	// Site the option is about, or the name of a new site.
	Site      string
	Km        float64 // of a new site; NaN when not given
	Detection float64 // NaN when not given
	Survival  float64 // of a new last reach; NaN when not given
	// Fish, Cohorts, Passes: how many more fish, how many cohorts for one,
	// how many test passes.
	Fish, Cohorts, Passes int
	Cost                  float64 // NaN: from the costs
}

// PlanOptions are the kinds of change a plan file can name.
var PlanOptions = []string{"fish", "row", "site", "antennas", "drop", "spread", "test passes"}

// IsPlan tells a plan file from a study file: it has no data, and cohorts or
// something else that only a plan has. A file that cannot be read is taken for
// a study.
func IsPlan(data []byte) bool {
	var top map[string]any
	if toml.Unmarshal(trimBOM(data), &top) != nil {
		return false
	}
	has := func(t map[string]any, keys ...string) bool {
		return slices.ContainsFunc(keys, func(k string) bool { return t[k] != nil })
	}
	if has(top, "fish", "sightings", "histories", "next_seen") {
		return false
	}
	sites, _ := top["site"].([]any)
	return has(top, "cohort", "want", "costs", "option") || slices.ContainsFunc(sites, func(s any) bool {
		t, _ := s.(map[string]any)
		return has(t, "survival", "detection")
	})
}

// LoadPlan reads and checks the plan file at path. All its faults are reported
// together, as *[history.Faults].
func LoadPlan(path string) (*Plan, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("the plan file cannot be read: %w", err)
	}
	return ParsePlan(path, data)
}

// ParsePlan is [LoadPlan] of a file's bytes; name stands in messages.
func ParsePlan(name string, data []byte) (*Plan, error) {
	sum := sha256.Sum256(data)
	root, err := parseTree(name, trimBOM(data))
	if err != nil {
		return nil, err
	}
	d := &decoder{}
	p := &Plan{Study: Study{Path: name, SHA256: hex.EncodeToString(sum[:]), Location: time.UTC}}
	d.plan(p, root)
	d.checkPlan(p)
	if err := d.faults.Err(); err != nil {
		return nil, err
	}
	return p, nil
}

func (d *decoder) plan(p *Plan, t *table) {
	p.Study.Title, _ = d.text(t, "title")
	if t.nodes["level"] != nil {
		v, pos := d.number(t, "level")
		if !(v > 0 && v < 1) {
			d.fault(pos, "level is %v; it lies between 0 and 1, such as 0.95", v)
		}
		p.Level = v
	} else {
		d.get(t, "level")
	}
	p.Want, p.WantPos = d.text(t, "want")
	for _, x := range d.tables(t, "site") {
		first := len(p.Study.Sites) == 0
		survival := d.supposed(x, "survival")
		detection, passes := d.get(x, "detection"), d.get(x, "test_passes")
		s := SiteSupposed{Survival: survival}
		if x.nodes["removed"] != nil {
			s.Removed = d.share(x, "removed")
		} else {
			d.get(x, "removed")
		}
		if first {
			for _, k := range []string{"survival", "detection", "test_passes", "removed"} {
				if n := x.nodes[k]; n != nil {
					d.fault(n.pos, "the first site is where fish are released; it has no %s: %s stands at the site below", k, k)
				}
			}
		}
		site := d.site(x, time.UTC)
		if !first {
			d.byRow(&s, &site, detection, passes)
		}
		p.Study.Sites = append(p.Study.Sites, site)
		p.Supposed = append(p.Supposed, s)
	}
	for _, x := range d.tables(t, "cohort") {
		p.Cohorts = append(p.Cohorts, d.planCohort(x))
	}
	for _, x := range d.tables(t, "hold") {
		p.Study.Holds = append(p.Study.Holds, d.hold(x))
	}
	for _, x := range d.tables(t, "model") {
		p.Study.Models = append(p.Study.Models, d.model(x))
	}
	if x := d.sub(t, "costs"); x != nil {
		p.Costs.Given = true
		for _, c := range []struct {
			key  string
			into *float64
		}{
			{"fish", &p.Costs.Fish}, {"row", &p.Costs.Row}, {"site", &p.Costs.Site}, {"antennas", &p.Costs.Antennas},
			{"cohort", &p.Costs.Cohort}, {"test_pass", &p.Costs.Test},
		} {
			if x.nodes[c.key] == nil {
				d.get(x, c.key)
				continue
			}
			v, pos := d.number(x, c.key)
			if v < 0 {
				d.fault(pos, "%s costs %v; a cost is 0 or more", c.key, v)
			}
			*c.into = v
		}
		d.done(x)
	}
	for _, x := range d.tables(t, "option") {
		p.Options = append(p.Options, d.planOption(x))
	}
	d.done(t)
}

// supposed is a probability or a list of its lowest and highest value.
func (d *decoder) supposed(t *table, key string) Supposed {
	n := d.get(t, key)
	if n == nil {
		return Supposed{Pos: t.pos, Low: math.NaN(), High: math.NaN()}
	}
	return d.supposedOf(n, key)
}

// supposedOf is a stand-in where the value is refused, lest it be asked for.
func (d *decoder) supposedOf(n *node, key string) Supposed {
	s := Supposed{Pos: n.pos, Low: 0.5, High: 0.5}
	ends := []*node{n, n}
	if list, ok := n.value.([]*node); ok {
		if len(list) != 2 {
			d.fault(n.pos, "%s must be a number, or a range [lowest, highest]", key)
			return s
		}
		ends = list
	}
	low, high := d.numberOf(ends[0], key), d.numberOf(ends[1], key)
	switch {
	case math.IsNaN(low) || math.IsNaN(high):
		return s
	case low > high:
		d.fault(n.pos, "%s runs from %v to %v; give the lowest first", key, low, high)
	case !(low > 0 && high <= 1):
		v := low
		if low > 0 {
			v = high
		}
		d.fault(ends[0].pos, "%s is %v; it must be above 0 and at most 1%s", key, v, ofPercent(v))
	default:
		s.Low, s.High = low, high
	}
	return s
}

// ofPercent helps out those who write 80 for 0.8.
func ofPercent(v float64) string {
	if v > 1 && v <= 100 {
		return fmt.Sprintf(" (%v %% is %v)", v, v/100)
	}
	return ""
}

// byRow spreads the detection and test passes of a site over its rows.
func (d *decoder) byRow(s *SiteSupposed, site *Site, detection, passes *node) {
	rows := site.rowNames()
	for range max(1, len(rows)) {
		s.Detection = append(s.Detection, Supposed{Pos: site.Pos, Low: math.NaN(), High: math.NaN()})
		s.TestPasses = append(s.TestPasses, 0)
	}
	each := func(n *node, key string, set func(i int, n *node, key string)) {
		if n == nil {
			return
		}
		t, ok := n.value.(*table)
		if !ok {
			for i := range s.Detection {
				set(i, n, key)
			}
			return
		}
		for _, k := range t.keys {
			if i := slices.Index(rows, k); i >= 0 {
				set(i, t.nodes[k], key+"."+k)
			} else {
				d.fault(t.nodes[k].pos, "%s: site %q has no row %q%s", key, site.Name, k, hint(k, rows))
			}
		}
	}
	before := d.faults.Count()
	each(detection, "detection", func(i int, n *node, key string) { s.Detection[i] = d.supposedOf(n, key) })
	if d.faults.Count() > before {
		for i := range s.Detection {
			s.Detection[i].Low = 0.5 // not to be asked for besides
		}
	}
	each(passes, "test_passes", func(i int, n *node, key string) {
		v, ok := n.value.(int64)
		if !ok || v < 0 || v > math.MaxInt32 {
			d.wrong(n, key, "a whole number from 0")
			return
		}
		s.TestPasses[i] = int(v)
	})
}

func (d *decoder) planCohort(t *table) PlanCohort {
	c := PlanCohort{Pos: t.pos}
	c.Name, _ = d.text(t, "name")
	if t.nodes["name"] == nil {
		d.fault(t.pos, "a [[cohort]] needs a name")
	}
	if v, ok := d.count(t, "fish"); ok {
		if c.Fish = v; v == 0 {
			d.fault(t.nodes["fish"].pos, "fish is 0; leave out a cohort that is not released")
		}
	}
	c.Site, c.SitePos = d.text(t, "site")
	c.Survival = d.supposedMap(t, "survival")
	c.Detection = d.supposedMap(t, "detection")
	d.done(t)
	return c
}

func (d *decoder) supposedMap(t *table, key string) map[string]Supposed {
	sub := d.sub(t, key)
	if sub == nil {
		return nil
	}
	m := map[string]Supposed{}
	for _, k := range sub.keys {
		m[k] = d.supposedOf(sub.nodes[k], key+"."+k)
	}
	return m
}

func (d *decoder) planOption(t *table) PlanOption {
	o := PlanOption{Pos: t.pos, Km: math.NaN(), Detection: math.NaN(), Survival: math.NaN(), Cost: math.NaN()}
	o.What, _ = d.oneOf(t, "what", PlanOptions...)
	if t.nodes["what"] == nil {
		d.fault(t.pos, "an [[option]] needs what: %s", strings.Join(PlanOptions, ", "))
	}
	o.Name, _ = d.text(t, "name")
	if t.nodes["cost"] != nil {
		var pos Pos
		if o.Cost, pos = d.number(t, "cost"); o.Cost < 0 && o.What != "drop" {
			d.fault(pos, "cost is %v; only what is dropped can cost less than nothing", o.Cost)
		}
	} else {
		d.get(t, "cost")
	}
	need := func(key string) {
		if t.nodes[key] == nil {
			d.fault(t.pos, "the option %q needs %s", o.What, key)
		}
	}
	whole := func(key string, least int, into *int) {
		need(key)
		if t.nodes[key] == nil {
			d.get(t, key)
			return
		}
		if v, ok := d.count(t, key); ok {
			if *into = v; v < least {
				d.fault(t.nodes[key].pos, "%s is %d; it must be at least %d", key, v, least)
			}
		}
	}
	probability := func(key string, needed bool, into *float64) {
		if needed {
			need(key)
		}
		if s := d.supposed(t, key); s.Given() {
			if *into = s.Low; s.Low != s.High {
				d.fault(s.Pos, "%s of an option is one number", key)
			}
		}
	}
	switch o.What {
	case "fish":
		whole("fish", 1, &o.Fish)
	case "row", "antennas":
		o.Site, _ = d.text(t, "site")
		need("site")
		probability("detection", o.What == "antennas", &o.Detection)
	case "site":
		o.Site, _ = d.text(t, "site")
		need("site")
		o.Km, _ = d.number(t, "km")
		need("km")
		probability("detection", true, &o.Detection)
		probability("survival", false, &o.Survival)
	case "drop":
		o.Site, _ = d.text(t, "site")
		need("site")
	case "spread":
		whole("cohorts", 2, &o.Cohorts)
	case "test passes":
		o.Site, _ = d.text(t, "site")
		need("site")
		whole("passes", 1, &o.Passes)
	default:
		return o // what it needs is not known
	}
	d.done(t)
	return o
}

// checkPlan is what concerns more than one entry of the file.
func (d *decoder) checkPlan(p *Plan) {
	s := &p.Study
	top := Pos{File: s.Path, Line: 1, Column: 1}
	d.checkSites(s, top)
	d.checkKm(s)
	d.checkHolds(s)
	d.checkModels(s)
	river := s.River()
	if len(s.Sites) < 2 {
		return // said already
	}
	if len(p.Cohorts) == 0 {
		d.fault(top, "the plan releases no fish; write [[cohort]] with name and fish")
	}
	first := map[string]Pos{}
	var cohorts []string
	for i := range p.Cohorts {
		c := &p.Cohorts[i]
		if q, ok := first[c.Name]; ok && c.Name != "" {
			d.fault(c.Pos, "cohort %q stands twice; first on line %d", c.Name, q.Line)
		} else {
			first[c.Name] = c.Pos
		}
		cohorts = append(cohorts, c.Name)
		d.checkCohort(p, c, &river)
	}
	for _, h := range s.Holds {
		for _, k := range slices.Sorted(keys(h.Where)) {
			if k != "cohort" {
				d.fault(h.WherePos, "where: in a plan fish differ by cohort only, not by %q", k)
			} else if !slices.Contains(cohorts, h.Where[k]) {
				d.fault(h.WherePos, "where: there is no cohort %q%s", h.Where[k], hint(h.Where[k], cohorts))
			}
		}
	}
	for i := range p.Options {
		o := &p.Options[i]
		if o.Site == "" {
			continue
		}
		k := river.SiteIndex(o.Site)
		switch {
		case o.What == "site" && k >= 0:
			d.fault(o.Pos, "site %q is there already; a new one needs a new name", o.Site)
		case o.What == "site" && math.IsNaN(river.Sites[0].Km):
			d.fault(o.Pos, "a new site at a km needs the km of the others")
		case o.What != "site" && k < 0:
			d.fault(o.Pos, "the plan has no site %q%s", o.Site, siteHint(o.Site, &river))
		case o.What != "site" && k == 0:
			d.fault(o.Pos, "fish are released at %q; it has no antennas", o.Site)
		}
	}
}

func siteHint(name string, river *history.River) string {
	var names []string
	for i := range river.Sites {
		names = append(names, river.Sites[i].Name)
	}
	return hint(name, names)
}

// checkCohort holds a cohort's own values to reaches and rows that exist, and
// asks for a value wherever its fish come by.
func (d *decoder) checkCohort(p *Plan, c *PlanCohort, river *history.River) {
	sites := len(river.Sites)
	from := 0
	if c.Site != "" {
		if from = river.SiteIndex(c.Site); from < 0 {
			d.fault(c.SitePos, "the plan has no site %q%s", c.Site, siteHint(c.Site, river))
			return
		}
		if from == sites-1 {
			d.fault(c.SitePos, "fish released at %q, the last site, can be seen nowhere", c.Site)
		}
	}
	var reaches, rows []string
	for k := 0; k+1 < sites; k++ {
		reaches = append(reaches, river.Reach(k))
	}
	for k := 1; k < sites; k++ {
		rows = append(rows, river.Sites[k].Name)
		if x := &river.Sites[k]; x.Divided() {
			for _, r := range x.Rows {
				rows = append(rows, x.Name+"/"+r)
			}
		}
	}
	for _, k := range slices.Sorted(keys(c.Survival)) {
		if !slices.Contains(reaches, k) {
			d.fault(c.Survival[k].Pos, "the plan has no reach %q%s", k, hint(k, reaches))
		}
	}
	for _, k := range slices.Sorted(keys(c.Detection)) {
		if !slices.Contains(rows, k) {
			d.fault(c.Detection[k].Pos, "the plan has no site or row %q%s", k, hint(k, rows))
		}
	}
	held := func(match func(h *Hold) bool) bool {
		return slices.ContainsFunc(p.Study.Holds, func(h Hold) bool {
			v, narrowed := h.Where["cohort"]
			return (!narrowed || v == c.Name) && match(&h)
		})
	}
	for k := from + 1; k < sites && k < len(p.Supposed); k++ {
		x := &river.Sites[k]
		if !p.Supposed[k].Survival.Given() && !c.Survival[reaches[k-1]].Given() && !held(func(h *Hold) bool { return h.Reach == reaches[k-1] }) {
			d.fault(p.Study.Sites[k].Pos, "site %q needs survival, that of the reach %s, for cohort %q", x.Name, reaches[k-1], c.Name)
		}
		for i, s := range p.Supposed[k].Detection {
			row := x.Name
			if x.Divided() {
				row += "/" + x.Rows[i]
			}
			atRow := func(h *Hold) bool {
				return h.Site == x.Name && (h.Row == "" || x.Divided() && h.Row == x.Rows[i])
			}
			if !s.Given() && !c.Detection[row].Given() && !c.Detection[x.Name].Given() && !held(atRow) {
				d.fault(p.Study.Sites[k].Pos, "site %q needs detection, for cohort %q%s", x.Name, c.Name, rowWords(row, x.Name))
			}
		}
	}
}

func rowWords(row, site string) string {
	if row == site {
		return ""
	}
	return " at row " + strings.TrimPrefix(row, site+"/")
}
