package figure

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/history"
)

func percent(e cjs.Estimate) cjs.Estimate {
	e.Value, e.Low, e.High = 100*e.Value, 100*e.Low, 100*e.High
	return e
}

// Passage shows the fish seen and passed along the river; nil where no site
// stands below the release.
func Passage(d *analysis.Fitted) *Figure {
	h := d.Histories
	river := &h.River
	a := &along{first: river.Sites[0].Name, released: view.Plural(h.Fish(), "fish released", "fish released"),
		running: d.Fit.Problem.Running()}
	var said []string
	for _, p := range d.Fit.Passed {
		if len(p.Of) > 0 {
			continue
		}
		site := &river.Sites[p.Site]
		x := stop{site: site.Name, aside: awayFrom(river, p.Site), seen: percent(p.SeenShare), passed: percent(p.PassedShare)}
		if a.running {
			x.passed, x.away, x.end = percent(p.SoFar), percent(p.StillToPass), percent(p.PassedShare)
		}
		a.stops = append(a.stops, x)
		if math.IsNaN(x.passed.Value) {
			said = append(said, fmt.Sprintf("%s: %s %% seen; how many passed cannot be told", x.site, view.Digits(x.seen.Value, 1)))
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
	caption := fmt.Sprintf("Of the fish released: seen at the site, and estimated to have passed it unseen. Whiskers: %s interval of all that passed.", level(d.Fit))
	switch {
	case !slices.ContainsFunc(a.stops, func(x stop) bool { return !math.IsNaN(x.passed.Value) }):
		caption = "Of the fish released: seen at the site. How many passed cannot be told from these data."
	case a.running:
		caption = fmt.Sprintf("The season is still running. Of the fish released so far: seen at the site, estimated to have passed it unseen by now, and still to pass. Whiskers: %s interval of what has passed by now.", level(d.Fit))
	}
	return &Figure{
		ID:    "passage",
		Title: "Passage along the river",
		Description: fmt.Sprintf("A bar for each site, the river running down. Of the fish released: %s. Whiskers are %s intervals.",
			strings.Join(said, "; "), level(d.Fit)),
		Caption: caption,
		body:    a,
	}
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

// maxRows keeps a chart of rows on a page; the tables hold what is left out.
const maxRows = 60

// Survival shows survival in each reach, by cohort or whatever the model tells
// apart; nil where there is none.
func Survival(d *analysis.Fitted) *Figure {
	river := &d.Histories.River
	b := newByPlace()
	for _, s := range d.Fit.Survival {
		g := rowGroup{title: river.Reach(s.From)}
		if km := river.ReachKm(s.From); !math.IsNaN(km) {
			g.aside = view.Digits(km, 1) + " km"
		}
		whom := view.Whom(s.Of)
		b.add(s.From, g, whom, row{label: whom, Estimate: s.Estimate}, g.title+", "+whom)
	}
	r := b.rows()
	if len(b.whom) == 1 {
		// Nobody to tell apart: the reach alone names its row.
		for i := range r.groups {
			for j := range r.groups[i].rows {
				r.groups[i].rows[j].label = ""
			}
		}
		r.groups = flat(r.groups)
	}
	if !fits(r) {
		return nil
	}
	r.axis = shareAxis(fmt.Sprintf("survival in the reach, with %s interval", level(d.Fit)), b.highest)
	return &Figure{
		ID:          "survival",
		Title:       "Survival by reach",
		Caption:     fmt.Sprintf("Estimates with %s intervals.", level(d.Fit)),
		Description: "A point with its interval for each reach" + byWhom(d.Fit.Survival[0].Of) + ". " + sentence(b.said),
		body:        r,
	}
}

// byPlace gathers the rows of a chart by reach or site.
type byPlace struct {
	groups  map[int]*rowGroup
	whom    map[string]int // whoever is told apart has a look of its own
	highest float64
	said    []string
}

func newByPlace() *byPlace { return &byPlace{groups: map[int]*rowGroup{}, whom: map[string]int{}} }

// add adds a row to the group of a place, which begins as g; name is what the
// description calls it.
func (b *byPlace) add(place int, g rowGroup, whom string, x row, name string) {
	if b.groups[place] == nil {
		b.groups[place] = &g
	}
	if _, ok := b.whom[whom]; !ok {
		b.whom[whom] = len(b.whom)
	}
	x.look = lookOf(b.whom[whom])
	b.groups[place].rows = append(b.groups[place].rows, x)
	if !math.IsNaN(x.Value) {
		b.highest = max(b.highest, x.Value)
		b.said = append(b.said, name+": "+view.Digits(x.Value, 3))
	}
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

func fits(r *rows) bool {
	n := 0
	for _, g := range r.groups {
		n += len(g.rows)
	}
	return n > 0 && n <= maxRows
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
		whom, label := view.Whom(x.Of), place
		if len(x.Of) > 0 {
			label = strings.TrimSuffix(whom+", "+place, ", ")
		}
		b.add(x.Site, rowGroup{title: site.Name}, whom, row{label: label, Estimate: x.Estimate, strong: strong},
			strings.TrimSuffix(site.Name+", "+label, ", "))
	}
	r := b.rows()
	if len(b.whom) == 1 {
		r.groups = flat(r.groups)
	}
	if !fits(r) {
		return nil
	}
	r.axis = shareAxis(fmt.Sprintf("share of passing fish that are seen, with %s interval", level(d.Fit)), b.highest)
	return &Figure{
		ID:          "detection",
		Title:       "Detection at each site",
		Caption:     fmt.Sprintf("Share of the fish passing that are seen, with %s intervals.", level(d.Fit)),
		Description: "A point with its interval for each site and row" + byWhom(d.Fit.Detection[0].Of) + ". " + sentence(b.said),
		body:        r,
	}
}

// Effects shows predicted probabilities over the range of each number in the
// model, a figure for each number and part of the model.
func Effects(d *analysis.Fitted) []*Figure {
	type key struct{ part, number string }
	var order []key
	panels := map[key][]panel{}
	where := map[key]map[string]int{}
	tables := map[key]*view.Table{}
	for _, c := range d.Effects.Curves {
		k := key{string(c.Part), c.Number}
		if panels[k] == nil {
			order = append(order, k)
			where[k] = map[string]int{}
			tables[k] = &view.Table{Columns: []view.Column{
				{Name: "place", Title: "place", Key: true}, {Name: "of", Title: "fish", Key: true},
				{Name: "value", Title: c.Number, Kind: view.Number, Digits: digitsFor(c.Points)},
				{Name: "probability", Title: k.part, Kind: view.Range, Digits: 3},
			}}
		}
		place := view.CurvePlace(&d.Histories.River, c)
		at, ok := where[k][place]
		if !ok {
			at = len(panels[k])
			where[k][place] = at
			low, high := c.Points[0].Value, c.Points[len(c.Points)-1].Value
			x := numberAxis(c.Number, low, high, 5)
			panels[k] = append(panels[k], panel{title: place, x: x, y: shareAxis(k.part, 1)})
		}
		p := &panels[k][at]
		l := line{look: lookOf(len(p.lines))}
		if len(c.Of) > 0 {
			l.label = view.Whom(c.Of)
		}
		for i, q := range c.Points {
			l.x = append(l.x, q.Value)
			l.y = append(l.y, q.Estimate.Value)
			l.low, l.high = append(l.low, q.Low), append(l.high, q.High)
			if i%5 == 0 || i == len(c.Points)-1 {
				t := tables[k]
				t.Rows = append(t.Rows, []view.Cell{view.T(place), view.T(view.Whom(c.Of)), view.N(q.Value), view.R(q.Estimate.Value, q.Low, q.High)})
			}
		}
		p.lines = append(p.lines, l)
	}
	var out []*Figure
	for _, k := range order {
		for i := range panels[k] {
			p := &panels[k][i]
			if len(p.lines) > 3 {
				// More bands than three hide each other.
				for j := range p.lines {
					p.lines[j].low, p.lines[j].high = nil, nil
				}
			}
		}
		id := "effect-" + slug(k.part+"-"+k.number)
		t := tables[k]
		out = append(out, &Figure{
			ID:    id,
			Title: fmt.Sprintf("%s and %s", strings.ToUpper(k.part[:1])+k.part[1:], k.number),
			Description: fmt.Sprintf("Predicted %s over the observed range of %s, other numbers at their mean, with %s intervals as bands. %s",
				k.part, k.number, level(d.Fit), rangeSaid(t)),
			Caption: fmt.Sprintf("Other numbers at their mean; bands are %s intervals, left out where more than three would hide each other.", level(d.Fit)),
			Table:   *t,
			body:    &charts{panels: panels[k]},
		})
	}
	return out
}

// rangeSaid says where each curve begins and ends.
func rangeSaid(t *view.Table) string {
	var said []string
	for i, r := range t.Rows {
		first := i == 0 || t.Rows[i-1][0] != r[0] || t.Rows[i-1][1] != r[1]
		if !first {
			continue
		}
		last := i
		for last+1 < len(t.Rows) && t.Rows[last+1][0] == r[0] && t.Rows[last+1][1] == r[1] {
			last++
		}
		said = append(said, fmt.Sprintf("%s, %s: from %s to %s", r[0].Text, r[1].Text, view.Digits(r[3].Value, 3), view.Digits(t.Rows[last][3].Value, 3)))
	}
	return sentence(said)
}

// digitsFor are the decimals that tell a curve's values apart.
func digitsFor(points []cjs.CurvePoint) int {
	if len(points) < 2 {
		return 1
	}
	by := math.Abs(points[1].Value - points[0].Value)
	if by == 0 {
		return 1
	}
	return max(0, 1-int(math.Floor(math.Log10(by))))
}

// slug is a name as part of a file name.
func slug(s string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(s) {
		switch {
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9':
			b.WriteRune(r)
		default:
			if n := b.Len(); n > 0 && b.String()[n-1] != '-' {
				b.WriteByte('-')
			}
		}
	}
	return strings.Trim(b.String(), "-")
}
