package plan

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"example.org/unseen/history"
	"example.org/unseen/history/study"
)

// File is a plan file's content, checked in itself: the sites, cohorts and
// values supposed of a season to come.
type File struct {
	// Study holds what a plan file shares with a study file: Path, SHA256,
	// Title, Sites, Holds and Models. It has no data.
	Study study.Study
	// Level of the intervals; 0 when not given.
	Level float64
	// Want is the precision wanted, in words; "" when not given.
	Want    string
	WantPos study.Pos
	// Supposed stands beside Study.Sites.
	Supposed []SiteSupposed
	Cohorts  []FileCohort
	Costs    Costs
	Options  []Option
}

// Supposed is a probability supposed to lie from Low to High; NaN when not given.
type Supposed struct {
	Pos       study.Pos // where it stands in the file
	Low, High float64   // the same where a single value is given
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
	// SiteWorking is the share of the passages for which a site of several rows
	// works, and Working that for which each row does; 0 when not given.
	SiteWorking float64
	Working     []float64
	// Removed is the share of the fish seen here that are taken out.
	Removed float64
}

// FileCohort is a cohort to be released, as the file has it.
type FileCohort struct {
	Pos  study.Pos // where it stands in the file
	Name string    // for people
	Fish int       // to be released
	// Site is where they are released; "" is the first site.
	Site    string
	SitePos study.Pos
	// Survival by reach and Detection by "Site" or "Site/row", where the
	// cohort differs from what the sites say.
	Survival, Detection map[string]Supposed
	// Working is by "Site" or "Site/row" too.
	Working map[string]Supposed
}

// Costs are what things cost, in any one currency; 0 when not given.
type Costs struct {
	Given                                   bool    // whether the file has any
	Fish, Row, Site, Antennas, Cohort, Test float64 // each, in one currency; 0 where not given
}

// Option is a change of the plan to be compared.
type Option struct {
	Pos study.Pos // where it stands in the file
	// What is one of [Kinds].
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

// Kinds are the kinds of change a plan file can name.
var Kinds = []string{"fish", "row", "site", "antennas", "drop", "spread", "test passes"}

// IsPlan tells a plan file from a study file: it has no data, and cohorts or
// something else that only a plan has. A file that cannot be read is taken for
// a study.
func IsPlan(data []byte) bool {
	var top map[string]any
	if toml.Unmarshal(bytes.TrimPrefix(data, []byte("\xef\xbb\xbf")), &top) != nil {
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

// Load reads and checks the plan file at path. All its faults are reported
// together, as *[history.Faults].
func Load(path string) (*File, error) {
	data, err := study.ReadFile(path, study.LargestStudy)
	if err != nil {
		return nil, fmt.Errorf("the plan file cannot be read: %w", err)
	}
	return Parse(path, data)
}

// Parse is [Load] of a file's bytes; name stands in messages.
func Parse(name string, data []byte) (*File, error) {
	top, err := study.OpenSection(name, data)
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256(data)
	f := &File{Study: study.Study{Path: name, SHA256: hex.EncodeToString(sum[:]), Location: time.UTC}}
	f.read(top)
	f.check(top)
	if err := top.Err(); err != nil {
		return nil, err
	}
	return f, nil
}

func (f *File) read(t study.Section) {
	f.Study.Title, _ = t.Text("title")
	if t.Has("level") {
		v, pos := t.Number("level")
		if !(v > 0 && v < 1) {
			t.Fault(pos, "level is %v; it lies between 0 and 1, such as 0.95", v)
		}
		f.Level = v
	}
	f.Want, f.WantPos = t.Text("want")
	for _, x := range t.List("site") {
		f.site(x)
	}
	for _, x := range t.List("cohort") {
		f.Cohorts = append(f.Cohorts, readCohort(x))
	}
	for _, x := range t.List("hold") {
		f.Study.Holds = append(f.Study.Holds, x.Hold())
	}
	for _, x := range t.List("model") {
		f.Study.Models = append(f.Study.Models, x.Model())
	}
	if x, ok := t.Sub("costs"); ok {
		f.Costs.read(x)
	}
	for _, x := range t.List("option") {
		f.Options = append(f.Options, readOption(x))
	}
	t.Done()
}

// site reads a site and what is supposed of it.
func (f *File) site(x study.Section) {
	first := len(f.Study.Sites) == 0
	s := SiteSupposed{Survival: supposed(x, "survival")}
	detection, passes, working := x.Get("detection"), x.Get("test_passes"), x.Get("working_share")
	if n := x.Get("working"); n.Given() {
		x.Fault(n.Pos(), "a plan has no times of release by which windows could count; give working_share, of the passages for which the site works, such as 0.8")
	}
	if x.Has("removed") {
		s.Removed = x.Share("removed")
	}
	if first {
		for _, k := range []string{"survival", "detection", "test_passes", "working_share", "removed"} {
			if n := x.Get(k); n.Given() {
				x.Fault(n.Pos(), "the first site is where fish are released; it has no %s: %s stands at the site below", k, k)
			}
		}
	}
	site := x.Site(time.UTC)
	if !first {
		s.byRow(x, &site, detection, passes, working)
	}
	f.Study.Sites = append(f.Study.Sites, site)
	f.Supposed = append(f.Supposed, s)
}

func (c *Costs) read(x study.Section) {
	c.Given = true
	for _, k := range []struct {
		key  string
		into *float64
	}{
		{"fish", &c.Fish}, {"row", &c.Row}, {"site", &c.Site}, {"antennas", &c.Antennas}, {"cohort", &c.Cohort}, {"test_pass", &c.Test},
	} {
		if !x.Has(k.key) {
			continue
		}
		v, pos := x.Number(k.key)
		if v < 0 {
			x.Fault(pos, "%s costs %v; a cost is 0 or more", k.key, v)
		}
		*k.into = v
	}
	x.Done()
}

// supposed is a probability or a list of its lowest and highest value.
func supposed(t study.Section, key string) Supposed {
	n := t.Get(key)
	if !n.Given() {
		return Supposed{Pos: t.Pos(), Low: math.NaN(), High: math.NaN()}
	}
	return supposedOf(t, n, key)
}

// supposedOf is a stand-in where the value is refused, lest it be asked for.
func supposedOf(t study.Section, n study.Value, key string) Supposed {
	s := Supposed{Pos: n.Pos(), Low: 0.5, High: 0.5}
	ends := []study.Value{n, n}
	if list, ok := n.List(); ok {
		if len(list) != 2 {
			t.Fault(n.Pos(), "%s must be a number, or a range [lowest, highest]", key)
			return s
		}
		ends = list
	}
	low, high := ends[0].Number(key), ends[1].Number(key)
	switch {
	case math.IsNaN(low) || math.IsNaN(high):
		return s
	case low > high:
		t.Fault(n.Pos(), "%s runs from %v to %v; give the lowest first", key, low, high)
	case !(low > 0 && high <= 1):
		v := low
		if low > 0 {
			v = high
		}
		t.Fault(ends[0].Pos(), "%s is %v; it must be above 0 and at most 1%s", key, v, ofPercent(v))
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
func (s *SiteSupposed) byRow(x study.Section, site *study.Site, detection, passes, working study.Value) {
	rows := site.RowNames()
	for range max(1, len(rows)) {
		s.Detection = append(s.Detection, Supposed{Pos: site.Pos, Low: math.NaN(), High: math.NaN()})
		s.TestPasses, s.Working = append(s.TestPasses, 0), append(s.Working, 0)
	}
	each := func(n study.Value, key string, set func(i int, n study.Value, key string)) {
		if !n.Given() {
			return
		}
		t, ok := n.Table()
		if !ok {
			for i := range s.Detection {
				set(i, n, key)
			}
			return
		}
		for _, k := range t.Keys() {
			if i := slices.Index(rows, k); i >= 0 {
				set(i, t.Get(k), key+"."+k)
			} else {
				x.Fault(t.Get(k).Pos(), "%s: site %q has no row %q%s", key, site.Name, k, study.Hint(k, rows))
			}
		}
	}
	before := x.Faults()
	each(detection, "detection", func(i int, n study.Value, key string) { s.Detection[i] = supposedOf(x, n, key) })
	if x.Faults() > before {
		for i := range s.Detection {
			s.Detection[i].Low = 0.5 // not to be asked for besides
		}
	}
	share := func(n study.Value, key string) float64 {
		v := supposedOf(x, n, key)
		if v.Low != v.High {
			x.Fault(n.Pos(), "%s is one number", key)
		}
		return v.Low
	}
	if working.Given() && len(rows) > 1 && !isTable(working) {
		s.SiteWorking, working = share(working, "working_share"), study.Value{}
	}
	each(working, "working_share", func(i int, n study.Value, key string) { s.Working[i] = share(n, key) })
	each(passes, "test_passes", func(i int, n study.Value, key string) {
		v, ok := n.Whole()
		if !ok || v < 0 || v > math.MaxInt32 {
			n.Wrong(key, "a whole number from 0")
			return
		}
		s.TestPasses[i] = int(v)
	})
}

func isTable(n study.Value) bool {
	_, ok := n.Table()
	return ok
}

func readCohort(t study.Section) FileCohort {
	c := FileCohort{Pos: t.Pos()}
	c.Name, _ = t.Text("name")
	if !t.Has("name") {
		t.Fault(t.Pos(), "a [[cohort]] needs a name")
	}
	if v, ok := t.Count("fish"); ok {
		if c.Fish = v; v == 0 {
			t.Fault(t.Get("fish").Pos(), "fish is 0; leave out a cohort that is not released")
		}
	}
	c.Site, c.SitePos = t.Text("site")
	c.Survival = supposedMap(t, "survival")
	c.Detection = supposedMap(t, "detection")
	c.Working = supposedMap(t, "working_share")
	t.Done()
	return c
}

func supposedMap(t study.Section, key string) map[string]Supposed {
	sub, ok := t.Sub(key)
	if !ok {
		return nil
	}
	m := map[string]Supposed{}
	for _, k := range sub.Keys() {
		m[k] = supposedOf(sub, sub.Get(k), key+"."+k)
	}
	return m
}

func readOption(t study.Section) Option {
	o := Option{Pos: t.Pos(), Km: math.NaN(), Detection: math.NaN(), Survival: math.NaN(), Cost: math.NaN()}
	o.What, _ = t.OneOf("what", Kinds...)
	if !t.Has("what") {
		t.Fault(t.Pos(), "an [[option]] needs what: %s", strings.Join(Kinds, ", "))
	}
	o.Name, _ = t.Text("name")
	if t.Has("cost") {
		var pos study.Pos
		if o.Cost, pos = t.Number("cost"); o.Cost < 0 && o.What != "drop" {
			t.Fault(pos, "cost is %v; only what is dropped can cost less than nothing", o.Cost)
		}
	}
	need := func(key string) bool {
		if t.Has(key) {
			return true
		}
		t.Fault(t.Pos(), "the option %q needs %s", o.What, key)
		return false
	}
	whole := func(key string, least int, into *int) {
		if !need(key) {
			return
		}
		if v, ok := t.Count(key); ok {
			if *into = v; v < least {
				t.Fault(t.Get(key).Pos(), "%s is %d; it must be at least %d", key, v, least)
			}
		}
	}
	probability := func(key string, needed bool, into *float64) {
		if needed {
			need(key)
		}
		if s := supposed(t, key); s.Given() {
			if *into = s.Low; s.Low != s.High {
				t.Fault(s.Pos, "%s of an option is one number", key)
			}
		}
	}
	site := func() {
		o.Site, _ = t.Text("site")
		need("site")
	}
	switch o.What {
	case "fish":
		whole("fish", 1, &o.Fish)
	case "row", "antennas":
		site()
		probability("detection", o.What == "antennas", &o.Detection)
	case "site":
		site()
		o.Km, _ = t.Number("km")
		need("km")
		probability("detection", true, &o.Detection)
		probability("survival", false, &o.Survival)
	case "drop":
		site()
	case "spread":
		whole("cohorts", 2, &o.Cohorts)
	case "test passes":
		site()
		whole("passes", 1, &o.Passes)
	default:
		return o // what it needs is not known
	}
	t.Done()
	return o
}

// check is what concerns more than one entry of the file.
func (p *File) check(t study.Section) {
	s := &p.Study
	top := study.Pos{File: s.Path, Line: 1, Column: 1}
	t.Check(s)
	river := s.River()
	if len(s.Sites) < 2 {
		return // said already
	}
	if len(p.Cohorts) == 0 {
		t.Fault(top, "the plan releases no fish; write [[cohort]] with name and fish")
	}
	first := map[string]study.Pos{}
	var cohorts []string
	for i := range p.Cohorts {
		c := &p.Cohorts[i]
		if q, ok := first[c.Name]; ok && c.Name != "" {
			t.Fault(c.Pos, "cohort %q stands twice; first on line %d", c.Name, q.Line)
		} else {
			first[c.Name] = c.Pos
		}
		cohorts = append(cohorts, c.Name)
		p.checkCohort(t, c, &river)
	}
	for _, h := range s.Holds {
		for _, k := range slices.Sorted(maps.Keys(h.Where)) {
			if k != "cohort" {
				t.Fault(h.WherePos, "where: in a plan fish differ by cohort only, not by %q", k)
			} else if !slices.Contains(cohorts, h.Where[k]) {
				t.Fault(h.WherePos, "where: there is no cohort %q%s", h.Where[k], study.Hint(h.Where[k], cohorts))
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
			t.Fault(o.Pos, "site %q is there already; a new one needs a new name", o.Site)
		case o.What == "site" && math.IsNaN(river.Sites[0].Km):
			t.Fault(o.Pos, "a new site at a km needs the km of the others")
		case o.What != "site" && k < 0:
			t.Fault(o.Pos, "the plan has no site %q%s", o.Site, siteHint(o.Site, &river))
		case o.What != "site" && k == 0:
			t.Fault(o.Pos, "fish are released at %q; it has no antennas", o.Site)
		}
	}
}

func siteHint(name string, river *history.River) string {
	var names []string
	for i := range river.Sites {
		names = append(names, river.Sites[i].Name)
	}
	return study.Hint(name, names)
}

// checkCohort holds a cohort's own values to reaches and rows that exist, and
// asks for a value wherever its fish come by.
func (p *File) checkCohort(t study.Section, c *FileCohort, river *history.River) {
	sites := len(river.Sites)
	from := 0
	if c.Site != "" {
		if from = river.SiteIndex(c.Site); from < 0 {
			t.Fault(c.SitePos, "the plan has no site %q%s", c.Site, siteHint(c.Site, river))
			return
		}
		if from == sites-1 {
			t.Fault(c.SitePos, "fish released at %q, the last site, can be detected nowhere", c.Site)
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
	for _, k := range slices.Sorted(maps.Keys(c.Survival)) {
		if !slices.Contains(reaches, k) {
			t.Fault(c.Survival[k].Pos, "the plan has no reach %q%s", k, study.Hint(k, reaches))
		}
	}
	for _, k := range slices.Sorted(maps.Keys(c.Detection)) {
		if !slices.Contains(rows, k) {
			t.Fault(c.Detection[k].Pos, "the plan has no site or row %q%s", k, study.Hint(k, rows))
		}
	}
	for _, k := range slices.Sorted(maps.Keys(c.Working)) {
		switch v := c.Working[k]; {
		case !slices.Contains(rows, k):
			t.Fault(v.Pos, "the plan has no site or row %q%s", k, study.Hint(k, rows))
		case v.Low != v.High:
			t.Fault(v.Pos, "working_share of %s is one number", k)
		}
	}
	held := func(match func(h *study.Hold) bool) bool {
		return slices.ContainsFunc(p.Study.Holds, func(h study.Hold) bool {
			v, narrowed := h.Where["cohort"]
			return (!narrowed || v == c.Name) && match(&h)
		})
	}
	for k := from + 1; k < sites && k < len(p.Supposed); k++ {
		x := &river.Sites[k]
		if !p.Supposed[k].Survival.Given() && !c.Survival[reaches[k-1]].Given() && !held(func(h *study.Hold) bool { return h.Reach == reaches[k-1] }) {
			t.Fault(p.Study.Sites[k].Pos, "site %q needs survival, that of the reach %s, for cohort %q", x.Name, reaches[k-1], c.Name)
		}
		for i, s := range p.Supposed[k].Detection {
			row := x.Name
			if x.Divided() {
				row += "/" + x.Rows[i]
			}
			atRow := func(h *study.Hold) bool {
				return h.Site == x.Name && (h.Row == "" || x.Divided() && h.Row == x.Rows[i])
			}
			if !s.Given() && !c.Detection[row].Given() && !c.Detection[x.Name].Given() && !held(atRow) {
				t.Fault(p.Study.Sites[k].Pos, "site %q needs detection, for cohort %q%s", x.Name, c.Name, rowWords(row, x.Name))
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
