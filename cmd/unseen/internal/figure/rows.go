package figure

import (
	"math"
	"slices"
	"strings"

	"example.org/unseen/cjs"
	"example.org/unseen/cmd/unseen/internal/canvas"
	"example.org/unseen/cmd/unseen/internal/view"
)

// rows is a chart of values with intervals, one on each line, under headings;
// where they are too many for a page, each heading has a small chart beside the
// others and the lines share their labels.
type rows struct {
	axis   axis
	digits int
	groups []rowGroup
	// rules are values marked across all lines.
	rules []rule
	// names explains what else there is, before the statuses; may be nil.
	names func(s *drawing) []entry
}

type rowGroup struct {
	title, aside string
	rows         []row
}

type row struct {
	label string
	// key finds the number in the answer's JSON.
	key string
	cjs.Estimate
	look canvas.Look
	// strong rows are drawn heavier.
	strong bool
}

const (
	rowPitch   = 22
	smallPitch = 13 // of small charts
	groupSpace = 12
	// pageHeight is what fits on a sheet of A4 with its caption, in the pixels
	// of a wide figure.
	pageHeight = 1080
)

// listed is about how high the chart is as one list.
func (r *rows) listed() float64 {
	y := 60.0
	for _, g := range r.groups {
		if g.title != "" {
			y += canvas.Leading + 6
		}
		y += rowPitch*float64(len(g.rows)) + groupSpace
	}
	return y
}

// blank tells a chart without a single value or interval.
func (r *rows) blank() bool {
	for _, g := range r.groups {
		for _, x := range g.rows {
			if !math.IsNaN(x.Value) || !math.IsNaN(x.Low) || !math.IsNaN(x.High) {
				return false
			}
		}
	}
	return true
}

// long tells a chart that is drawn as small charts.
func (r *rows) long() bool { return r.listed() > pageHeight && len(r.groups) > 1 }

func (r *rows) draw(s *drawing, width float64) float64 {
	y := 0.0
	if r.long() {
		y = r.small(s, width)
	} else {
		y = r.list(s, width)
	}
	var occur []cjs.Status
	for _, g := range r.groups {
		for _, x := range g.rows {
			occur = append(occur, x.Status)
		}
	}
	var key []entry
	if r.names != nil {
		key = r.names(s)
	}
	return y + s.legend(y+2, width, append(key, s.explain(occur, false)...))
}

// value is the number of a line in words.
func (r *rows) value(x *row, wide bool) string {
	switch {
	case math.IsNaN(x.Value) && wide:
		return instead(x.Status) + view.Bracket(x.Low, x.High, r.digits, "")
	case math.IsNaN(x.Value):
		return instead(x.Status)
	case x.Status == cjs.Held:
		return view.Digits(x.Value, r.digits) + " (held)"
	case wide:
		return view.Digits(x.Value, r.digits) + view.Bracket(x.Low, x.High, r.digits, "")
	}
	return view.Digits(x.Value, r.digits)
}

func (r *rows) list(s *drawing, width float64) float64 {
	wide := width >= Wide
	labels, values := 0.0, 0.0
	for _, g := range r.groups {
		for i := range g.rows {
			labels = max(labels, canvas.TextWidth(g.rows[i].label, canvas.TextSize, g.rows[i].strong))
			values = max(values, canvas.TextWidth(r.value(&g.rows[i], wide), canvas.SmallSize, g.rows[i].strong))
		}
	}
	labels = min(labels, width*.36)
	left := 12 + labels + 14
	right := width - values - 14
	at := func(x float64) float64 { return left + (right-left)*r.axis.of(x) }

	type placed struct {
		*row
		y float64
	}
	var all []placed
	y := 4.0
	if len(r.rules) > 0 {
		y += canvas.Leading
	}
	top := y
	// The grid comes first, under everything.
	var over []canvas.Op
	s.Ops, over = over, s.Ops
	for _, g := range r.groups {
		if g.title != "" {
			y += canvas.Leading
			s.Text(0, y, g.title, canvas.TextStyle{Bold: true, Halo: true})
			if g.aside != "" {
				s.Text(canvas.TextWidth(g.title, canvas.TextSize, true)+8, y, g.aside, canvas.TextStyle{Colour: &canvas.Muted, Halo: true})
			}
			y += 2
		}
		for i := range g.rows {
			lines := canvas.Wrap(g.rows[i].label, canvas.TextSize, g.rows[i].strong, labels)
			y += rowPitch
			all = append(all, placed{&g.rows[i], y - 4})
			for k, l := range lines {
				if k > 0 {
					y += canvas.Leading
				}
				s.Text(12, y, l, canvas.TextStyle{Bold: g.rows[i].strong})
			}
		}
		y += groupSpace
	}
	bottom := y
	s.Ops, over = over, s.Ops
	r.ground(s, at, left, right, top+2, bottom, true)
	s.Ops = append(s.Ops, over...)
	for _, x := range all {
		r.put(s, x.row, at, x.y, 4.5)
		ink := canvas.Ink
		if math.IsNaN(x.Value) {
			ink = canvas.Muted
		}
		s.Text(right+14, x.y+4, r.value(x.row, wide), canvas.TextStyle{Size: canvas.SmallSize, Bold: x.strong, Colour: &ink})
	}
	y = bottom + 2*canvas.Leading + 4
	for _, l := range canvas.Wrap(r.axis.title, canvas.SmallSize, false, width) {
		s.Text(width, y, l, canvas.TextStyle{Size: canvas.SmallSize, Anchor: canvas.End, Colour: &canvas.Muted})
		y += canvas.Leading
	}
	return y - canvas.Leading + 8
}

// ground draws grid, rules and axis.
func (r *rows) ground(s *drawing, at func(float64) float64, left, right, top, bottom float64, named bool) {
	for _, t := range r.axis.thin(right - left) {
		s.Segment(at(t.at), top, at(t.at), bottom, canvas.Grid, canvas.Hairline)
		s.Text(at(t.at), bottom+canvas.Leading, t.label, canvas.TextStyle{Size: canvas.SmallSize, Anchor: canvas.Middle, Colour: &canvas.Muted})
	}
	for _, l := range r.rules {
		s.Segment(at(l.x), top-4, at(l.x), bottom, canvas.Wanted, 1.4, l.dash...)
		if named {
			s.Text(at(l.x), top-8, l.label, canvas.TextStyle{Size: canvas.SmallSize, Anchor: canvas.Middle})
		}
	}
	s.Segment(left, bottom, right, bottom, canvas.Muted, canvas.Hairline)
}

// put draws one line's mark and interval.
func (r *rows) put(s *drawing, x *row, at func(float64) float64, y, size float64) {
	w := float64(canvas.LineWidth)
	if x.strong {
		w, size = 3, size+1
	}
	s.shows(x.key, x.Estimate, func() {
		if !math.IsNaN(x.Low) || !math.IsNaN(x.High) {
			low, high, open := x.Low, x.High, [2]bool{}
			if !(low >= r.axis.low) {
				low, open[0] = r.axis.low, true
			}
			if !(high <= r.axis.high) {
				high, open[1] = r.axis.high, true
			}
			s.reach(canvas.At(at(low), y), canvas.At(at(high), y), x.look.Colour, w, x.Status, open)
		}
		if !math.IsNaN(x.Value) {
			s.point(at(x.Value), y, size, x.look, x.Status)
		}
	})
}

// lines are the labels of all groups, each once, in the order in which they
// come.
func (r *rows) lines() []string {
	var out []string
	have := map[string]bool{}
	for _, g := range r.groups {
		for _, x := range g.rows {
			if !have[x.label] {
				have[x.label] = true
				out = append(out, x.label)
			}
		}
	}
	return out
}

// small draws a chart for each group.
func (r *rows) small(s *drawing, width float64) float64 {
	labels := r.lines()
	name := 0.0
	for _, l := range labels {
		name = max(name, canvas.TextWidth(l, canvas.SmallSize, false))
	}
	name = min(name, width*.3)
	columns := smallColumns(width, name)
	gap := 14.0 // between the last label of an axis and the first of the next
	for _, t := range r.axis.ticks {
		gap = max(gap, canvas.TextWidth(t.label, canvas.SmallSize, false)+6)
	}
	each := (width-name-8)/float64(columns) - gap
	plain := canvas.Series[0]
	y := 0.0
	for from := 0; from < len(r.groups); from += columns {
		line := r.groups[from:min(len(r.groups), from+columns)]
		heads := 1
		wrapped := make([][]string, len(line))
		for i, g := range line {
			wrapped[i] = canvas.Shorten(canvas.Wrap(strings.TrimSpace(g.title+" "+g.aside), canvas.SmallSize, true, each), 3)
			heads = max(heads, len(wrapped[i]))
		}
		top := y + float64(heads)*(canvas.Leading-2) + 8
		bottom := top + smallPitch*float64(len(labels)) + 4
		for k, l := range labels {
			s.Text(name, top+smallPitch*float64(k)+smallPitch-2, canvas.Shorten(canvas.Wrap(l, canvas.SmallSize, false, name), 1)[0], canvas.TextStyle{Size: canvas.SmallSize, Anchor: canvas.End})
		}
		for i, g := range line {
			left := name + 8 + float64(i)*(each+gap) + gap/2
			right := left + each
			at := func(x float64) float64 { return left + (right-left)*r.axis.of(x) }
			for k, t := range wrapped[i] {
				s.Text(left, y+float64(k+1)*(canvas.Leading-2), t, canvas.TextStyle{Size: canvas.SmallSize, Bold: true})
			}
			r.ground(s, at, left, right, top, bottom, false)
			for j := range g.rows {
				x := g.rows[j]
				x.look = plain
				r.put(s, &x, at, top+smallPitch*float64(slices.Index(labels, x.label))+smallPitch/2+2, 3)
			}
		}
		y = bottom + canvas.Leading + 10
	}
	for _, l := range canvas.Wrap(r.axis.title, canvas.SmallSize, false, width) {
		y += canvas.Leading - 4
		s.Text(width, y, l, canvas.TextStyle{Size: canvas.SmallSize, Anchor: canvas.End, Colour: &canvas.Muted})
	}
	return y + 8
}

// smallColumns is how many small charts stand beside each other.
func smallColumns(width, name float64) int {
	return max(1, min(4, int((width-name-8)/118)))
}

// pages are the chart in parts that fit on a sheet each.
func (r *rows) pages() []body {
	if r.listed() <= pageHeight {
		return []body{r}
	}
	part := func(groups []rowGroup) body {
		one := *r
		one.groups = groups
		return &one
	}
	var out []body
	if !r.long() {
		for rest := range slices.Chunk(r.groups[0].rows, pageHeight/rowPitch-5) {
			out = append(out, part([]rowGroup{{title: r.groups[0].title, aside: r.groups[0].aside, rows: rest}}))
		}
		return out
	}
	// Lines that are too many for one sheet are shared out first.
	const most = 60
	for labels := range slices.Chunk(r.lines(), most) {
		name := 0.0
		for _, l := range labels {
			name = max(name, canvas.TextWidth(l, canvas.SmallSize, false))
		}
		deep := max(1, int((pageHeight-45)/(smallPitch*float64(len(labels))+70))) * smallColumns(Wide, min(name, Wide*.3))
		var groups []rowGroup
		for _, g := range r.groups {
			g.rows = slices.DeleteFunc(slices.Clone(g.rows), func(x row) bool { return !slices.Contains(labels, x.label) })
			if len(g.rows) > 0 {
				groups = append(groups, g)
			}
		}
		for some := range slices.Chunk(groups, deep) {
			out = append(out, part(some))
		}
	}
	return out
}
