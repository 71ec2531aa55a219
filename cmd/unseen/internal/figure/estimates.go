package figure

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/canvas"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/history"
)

func percent(e cjs.Estimate) cjs.Estimate {
	e.Value, e.Low, e.High = 100*e.Value, 100*e.Low, 100*e.High
	return e
}

// source names what a figure of a fit is made of.
func source(d *analysis.Fitted) string {
	return joined(d.Source().Name(), "model "+d.Fit.Problem.WordsWithLinks(), fish(d.Data))
}

// dataSource is source of a figure that rests on no model.
func dataSource(d *analysis.Data) string { return joined(d.Source().Name(), fish(d)) }

func joined(parts ...string) string { return strings.Join(parts, " · ") }

// fish is the number behind a figure, and up to when data count.
func fish(d *analysis.Data) string {
	n := "n = " + view.Digits(float64(d.Histories.Fish()), 0) + " fish"
	if d.Running() {
		s := d.Source()
		n += ", data through " + s.UpTo(s.AsOf, "2 January 2006", "2 January 2006 15:04")
	}
	return n
}

// Passage shows the fish seen and passed along the river; nil where no site
// stands below the release.
func Passage(d *analysis.Fitted) *Figure {
	river := &d.Histories.River
	a := &along{first: river.Sites[0].Name, of: "% of the fish released above", running: d.Fit.Problem.Running(), level: level(d.Fit)}
	released := make([]int, len(river.Sites))
	for i := range d.Histories.Entry {
		if d.Histories.New(i) {
			released[d.Histories.Entry[i]] += d.Histories.Weight(i)
		}
	}
	several := slices.ContainsFunc(released[1:], func(n int) bool { return n > 0 })
	a.released = view.Digits(float64(released[0]), 0) + " fish released"
	if several {
		a.released += " here"
	}
	var said []string
	for _, p := range d.Fit.Passed {
		if len(p.Of) > 0 {
			continue
		}
		x := stop{site: river.Sites[p.Site].Name, seen: percent(p.SeenShare), passed: percent(p.PassedShare),
			away: cjs.NoEstimate(cjs.Absent), end: cjs.NoEstimate(cjs.Absent)}
		if s := awayFrom(river, p.Site); s != "" {
			x.asides = append(x.asides, s)
		}
		if several {
			of := "of " + view.Digits(float64(p.Released), 0) + " fish"
			if n := released[p.Site]; n > 0 {
				of += ", +" + view.Digits(float64(n), 0)
			}
			x.asides = append(x.asides, of)
		}
		if a.running {
			x.passed, x.away, x.end = percent(p.SoFar), percent(p.StillToPass), percent(p.PassedShare)
		}
		a.stops = append(a.stops, x)
		if math.IsNaN(x.passed.Value) {
			said = append(said, fmt.Sprintf("%s: %s %% seen; how many passed is not identifiable", x.site, view.Digits(x.seen.Value, 1)))
			continue
		}
		bounds := ""
		if s := interval(x.passed); s != "" {
			bounds = " (" + s + ")"
		}
		line := fmt.Sprintf("%s: %s %%%s passed, %s %% seen", x.site, view.Digits(x.passed.Value, 1), bounds, view.Digits(x.seen.Value, 1))
		if a.running && !math.IsNaN(x.away.Value) {
			line += fmt.Sprintf(", %s %% still to pass", view.Digits(x.away.Value, 1))
		}
		said = append(said, line)
	}
	if len(a.stops) == 0 {
		return nil
	}
	caption := "Of the fish released above each site: those seen there, and those estimated to have passed it unseen."
	if !slices.ContainsFunc(a.stops, func(x stop) bool { return !math.IsNaN(x.passed.Value) }) {
		caption = "Of the fish released above each site: those seen there."
	}
	if several {
		caption += " Fish were released at several sites: under a site's name stands of how many fish its shares are, and after the + how many were released there."
	}
	if a.running && slices.ContainsFunc(a.stops, func(x stop) bool { return !math.IsNaN(x.passed.Value) }) {
		caption += " The season is still running: what has passed so far, and what is estimated to pass yet."
	}
	return &Figure{
		ID:    "passage",
		Title: "Passage along the river",
		Description: fmt.Sprintf("A bar for each site, the river running down. Of the fish released: %s. Whiskers are %s intervals.",
			strings.Join(said, "; "), level(d.Fit)),
		Caption: strings.Join(append(found(a), caption), " "),
		Source:  source(d),
		body:    a,
	}
}

// found says what passed the last site of which that can be told, and which of
// the others rest on shared parameters.
func found(a *along) []string {
	var out, shared []string
	last := -1
	for i, x := range a.stops {
		if x.passed.Status == cjs.Borrowed {
			shared = append(shared, x.site)
		} else if !math.IsNaN(x.passed.Value) {
			last = i
		}
	}
	early := func(x stop) bool { return x.passed.Status == cjs.TooEarly }
	if last < 0 && slices.ContainsFunc(a.stops, early) {
		why := "It is too early to say how many have passed: slow fish cannot be told from dead ones yet."
		if !a.running {
			why = "How many passed has an interval only: too many may have while rows did not work."
		}
		out = append(out, why)
	} else if last < 0 {
		out = append(out, "How many passed is not identifiable from these data.")
	} else {
		x := &a.stops[last]
		verb := "passed"
		if a.running {
			verb = "had passed"
		}
		out = append(out, fmt.Sprintf("%s %s %s; %s %% were seen there.", view.PercentSpan(x.passed.Value/100, x.passed.Low/100, x.passed.High/100, 1), verb, x.site, view.Digits(x.seen.Value, 1)))
	}
	if len(shared) > 0 {
		out = append(out, "What passed "+view.And(shared)+" is identified only through parameters shared with other sites.")
	}
	return out
}

func level(f *cjs.Fit) string {
	return strings.TrimSuffix(view.Digits(100*f.Options.Level, 1), ".0") + " %"
}

// awayFrom says how far a site is from the first, where the study gives km.
func awayFrom(r *history.River, site int) string {
	km := math.Abs(r.Sites[site].Km - r.Sites[0].Km)
	if math.IsNaN(km) {
		return ""
	}
	return view.Digits(km, 1) + " km down"
}

// PassedBy shows what passed each site by cohort, or by the categories by which
// survival differs; nil where nothing tells fish apart.
func PassedBy(d *analysis.Fitted) *Figure {
	river := &d.Histories.River
	names := ""
	for _, p := range d.Fit.Passed {
		// Of several sets of categories the cohorts, which stand first.
		if len(p.Of) > 0 && names == "" {
			names = categories(p.Of)
		}
	}
	if names == "" {
		return nil
	}
	running := d.Fit.Problem.Running()
	b := newByPlace()
	for _, p := range d.Fit.Passed {
		if len(p.Of) > 0 && categories(p.Of) != names {
			continue
		}
		e := p.PassedShare
		if running {
			e = p.SoFar
		}
		whom := view.Whom(p.Of)
		x := row{label: whom, Estimate: percent(e), strong: len(p.Of) == 0, key: "passed " + river.Sites[p.Site].Name + " " + whom}
		b.add(p.Site, rowGroup{title: river.Sites[p.Site].Name}, whom, x, river.Sites[p.Site].Name+", "+whom)
	}
	r := b.rows()
	if r.blank() {
		return nil
	}
	r.digits = 1
	what, title := "% passed", "Passed, by "+names
	if running {
		what, title = "% passed so far", "Passed so far, by "+names
	}
	r.axis = percentAxis(fmt.Sprintf("%s of the fish released, with %s interval", what, level(d.Fit)))
	for i := range r.groups {
		for j := range r.groups[i].rows {
			r.groups[i].rows[j].look = canvas.Series[0]
		}
	}
	// The site farthest down where the cohorts have values says how they differ.
	finding := ""
	for _, g := range slices.Backward(r.groups) {
		if low, high := extremes(g.rows); low != nil && high != nil && low != high {
			finding = fmt.Sprintf("At %s from %s %% (%s) to %s %% (%s).", g.title, view.Digits(low.Value, 1), low.label, view.Digits(high.Value, 1), high.label)
			break
		}
	}
	return &Figure{
		ID:          "passed-by-" + slug(names),
		Title:       title,
		Caption:     strings.TrimSpace(finding + " Heavier: all fish together."),
		Source:      source(d),
		Description: "A point with its interval for each site and " + names + ", in percent. " + sentence(b.said),
		body:        r,
	}
}

// extremes are the lowest and the highest of the lines with a value, all fish
// together apart.
func extremes(list []row) (low, high *row) {
	for i := range list {
		x := &list[i]
		if math.IsNaN(x.Value) || x.strong {
			continue
		}
		if low == nil || x.Value < low.Value {
			low = x
		}
		if high == nil || x.Value > high.Value {
			high = x
		}
	}
	return low, high
}

func categories(of []cjs.Category) string {
	names := make([]string, len(of))
	for i, c := range of {
		names[i] = c.Name
	}
	return strings.Join(names, " and ")
}

// Survival shows survival in each reach, by cohort or whatever the model tells
// apart; nil where there is none.
func Survival(d *analysis.Fitted) *Figure {
	return survival(d, "survival", "Survival by reach", "survival in the reach", 3, func(s *cjs.Survival) cjs.Estimate { return s.Estimate })
}

// SurvivalPer100Km shows survival as it would be over 100 km of each reach, so
// that reaches of unlike length compare; nil where the study gives no km, or
// all reaches are as long.
func SurvivalPer100Km(d *analysis.Fitted) *Figure {
	river := &d.Histories.River
	var lengths []float64
	for i := range len(river.Sites) - 1 {
		lengths = append(lengths, river.ReachKm(i))
	}
	if len(lengths) < 2 || slices.ContainsFunc(lengths, func(x float64) bool { return !(x > 0) }) || slices.Max(lengths) < slices.Min(lengths)+.05 {
		return nil
	}
	f := survival(d, "survival-per-100-km", "Survival per 100 km", "survival per 100 km", 3, func(s *cjs.Survival) cjs.Estimate {
		return per100(s.Estimate, river.ReachKm(s.From))
	})
	if f == nil || f.body.(*rows).blank() {
		return nil
	}
	f.Table = view.Table{ID: "survival_per_100_km", Columns: []view.Column{
		{Name: "of", Title: "fish", Key: true}, {Name: "reach", Title: "reach", Key: true}, {Name: "km", Title: "km", Kind: view.Number, Digits: 1},
		{Name: "survival_per_100_km", Title: "survival per 100 km", Kind: view.Range, Digits: 3}, {Name: "status"}}}
	for _, s := range d.Fit.Survival {
		km := river.ReachKm(s.From)
		e := per100(s.Estimate, km)
		f.Table.Rows = append(f.Table.Rows, []view.Cell{view.T(view.Whom(s.Of)), view.T(river.Reach(s.From)), view.N(km), view.R(e.Value, e.Low, e.High), view.T(string(s.Status))})
	}
	f.Caption += " Survival of a reach raised to 100 over its length in km: for comparing reaches of different length."
	return f
}

// per100 is a survival over so many km as one over 100 km. A power keeps order,
// so the ends of the interval stay its ends.
func per100(e cjs.Estimate, km float64) cjs.Estimate {
	power := func(x float64) float64 { return math.Pow(max(0, x), 100/km) }
	if !math.IsNaN(e.Value) {
		e.Value = power(e.Value)
	}
	if !math.IsNaN(e.Low) {
		e.Low = power(e.Low)
	}
	if !math.IsNaN(e.High) {
		e.High = power(e.High)
	}
	e.SE = math.NaN()
	return e
}

func survival(d *analysis.Fitted, id, title, what string, digits int, value func(*cjs.Survival) cjs.Estimate) *Figure {
	river := &d.Histories.River
	b := newByPlace()
	for i := range d.Fit.Survival {
		s := &d.Fit.Survival[i]
		g := rowGroup{title: river.Reach(s.From)}
		if km := river.ReachKm(s.From); !math.IsNaN(km) {
			g.aside = view.Digits(km, 1) + " km"
		}
		whom := view.Whom(s.Of)
		b.add(s.From, g, whom, row{label: whom, Estimate: value(s), key: id + " " + g.title + " " + whom}, g.title+", "+whom)
	}
	r := b.rows()
	if len(r.groups) == 0 {
		return nil
	}
	r.digits = digits
	if len(b.whom) == 1 {
		// Nobody to tell apart: the reach alone names its row.
		for i := range r.groups {
			for j := range r.groups[i].rows {
				r.groups[i].rows[j].label = ""
			}
		}
		r.groups = flat(r.groups)
	}
	r.axis = shareAxis(fmt.Sprintf("%s, with %s interval", what, level(d.Fit)), b.highest)
	return &Figure{
		ID:          id,
		Title:       title,
		Caption:     b.between(what),
		Source:      source(d),
		Description: "A point with its interval for each reach" + byWhom(d.Fit.Survival[0].Of) + ". " + sentence(b.said),
		body:        r,
	}
}

// byPlace gathers the rows of a chart by reach or site.
type byPlace struct {
	groups    map[int]*rowGroup
	whom      map[string]int // whoever is told apart has a look of its own
	highest   float64
	said      []string
	low, high struct {
		value float64
		name  string
	}
}

func newByPlace() *byPlace {
	b := &byPlace{groups: map[int]*rowGroup{}, whom: map[string]int{}}
	b.low.value, b.high.value = math.Inf(1), math.Inf(-1)
	return b
}

// add adds a row to the group of a place, which begins as g; name is what the
// description calls it.
func (b *byPlace) add(place int, g rowGroup, whom string, x row, name string) {
	if b.groups[place] == nil {
		b.groups[place] = &g
	}
	if _, ok := b.whom[whom]; !ok {
		b.whom[whom] = len(b.whom)
	}
	x.look = canvas.LookOf(b.whom[whom])
	b.groups[place].rows = append(b.groups[place].rows, x)
	if math.IsNaN(x.Value) {
		return
	}
	b.highest = max(b.highest, x.Value)
	b.said = append(b.said, name+": "+view.Digits(x.Value, 3))
	if x.Status != cjs.Held {
		if x.Value < b.low.value {
			b.low.value, b.low.name = x.Value, name
		}
		if x.Value > b.high.value {
			b.high.value, b.high.name = x.Value, name
		}
	}
}

// between says where what was estimated is lowest and where highest.
func (b *byPlace) between(what string) string {
	switch {
	case b.low.name == "":
		return "Nothing of it can be estimated from these data."
	case b.low.name == b.high.name:
		return fmt.Sprintf("%s is %s (%s).", capital(what), view.Digits(b.low.value, 3), b.low.name)
	}
	return fmt.Sprintf("%s is lowest at %s (%s) and highest at %s (%s).", capital(what),
		view.Digits(b.low.value, 3), b.low.name, view.Digits(b.high.value, 3), b.high.name)
}

// capital begins with a capital letter.
func capital(s string) string {
	_, n := utf8.DecodeRuneInString(s)
	return strings.ToUpper(s[:n]) + s[n:]
}

// rows are those of all places, in downstream order.
func (b *byPlace) rows() *rows {
	r := &rows{digits: 3}
	for _, place := range slices.Sorted(maps.Keys(b.groups)) {
		r.groups = append(r.groups, *b.groups[place])
	}
	return r
}

func byWhom(of []cjs.Category) string {
	if len(of) == 0 {
		return ""
	}
	names := make([]string, len(of))
	for i, c := range of {
		names[i] = c.Name
	}
	return " and each " + view.And(names)
}

// sentence joins what is said of the values; of many, the first.
func sentence(said []string) string {
	const most = 20
	if len(said) > most {
		return strings.Join(said[:most], "; ") + fmt.Sprintf("; and %d more in the table.", len(said)-most)
	}
	return strings.Join(said, "; ") + "."
}

// flat makes one group without headings: each row is named by its group and
// its label.
func flat(groups []rowGroup) []rowGroup {
	var out rowGroup
	for _, g := range groups {
		for _, x := range g.rows {
			x.label = strings.TrimSuffix(g.title+", "+x.label, ", ")
			out.rows = append(out.rows, x)
		}
	}
	return []rowGroup{out}
}

// Detection shows detection at each site and row; nil where there is none.
func Detection(d *analysis.Fitted) *Figure {
	river := &d.Histories.River
	b := newByPlace()
	for _, x := range d.Fit.Detection {
		site := &river.Sites[x.Site]
		place, strong := "", false
		switch {
		case x.Row >= 0:
			place = site.Rows[x.Row]
		case site.Divided():
			place, strong = "whole site", true
		}
		whom := view.Whom(x.Of)
		g := rowGroup{title: site.Name}
		at := x.Site * (history.MaxRows + 2)
		label := place
		if len(x.Of) > 0 {
			// By cohort, each row of a site stands under a heading of its own.
			label, strong = whom, false
			at += x.Row + 1
			if x.Row < 0 {
				at += history.MaxRows + 1
			}
			g.title = strings.TrimSuffix(site.Name+", "+place, ", ")
		}
		b.add(at, g, whom, row{label: label, Estimate: x.Estimate, strong: strong, key: strings.Join([]string{"detection", site.Name, place, whom}, " ")},
			strings.TrimSuffix(g.title+", "+label, ", "))
	}
	r := b.rows()
	if len(r.groups) == 0 {
		return nil
	}
	if len(b.whom) == 1 {
		r.groups = flat(r.groups)
	}
	r.axis = shareAxis(fmt.Sprintf("probability of detection for a fish that passes, with %s interval", level(d.Fit)), b.highest)
	return &Figure{
		ID:          "detection",
		Title:       "Detection at each site",
		Caption:     b.between("detection"),
		Source:      source(d),
		Description: "A point with its interval for each site and row" + byWhom(d.Fit.Detection[0].Of) + ". " + sentence(b.said),
		body:        r,
	}
}
