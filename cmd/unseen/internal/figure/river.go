package figure

import (
	"math"

	"example.org/unseen/cjs"
	"example.org/unseen/cmd/unseen/internal/canvas"
	"example.org/unseen/cmd/unseen/internal/view"
)

// along is the river from top to bottom with a bar at each site: fish seen,
// passed unseen, and still on their way, in percent of those released above.
type along struct {
	released string // the label of the bar of all fish
	first    string // where they were released
	// of is what the bars are a share of.
	of    string
	stops []stop
	// running: the season goes on, and what passed is so far.
	running bool
	level   string
}

type stop struct {
	site string
	// asides stand below the name: how far down, of how many fish.
	asides       []string
	seen, passed cjs.Estimate // percent
	// away is the share still to pass, and end what will have passed by the
	// season's end; both Absent when it is over.
	away, end cjs.Estimate
}

const barHeight = 22

// pitch is the distance of the bars: closer where there are many.
func (a *along) pitch() float64 {
	lines, least := 1, 46.0
	for _, p := range a.stops {
		lines = max(lines, 1+len(p.asides))
	}
	if a.running {
		lines = max(lines, 4)
	}
	least = max(least, 14*float64(lines)+10)
	return max(least, min(62, 430/float64(len(a.stops))))
}

func (a *along) draw(s *drawing, width float64) float64 {
	wide := width >= Wide
	name := canvas.TextWidth(a.first, canvas.TextSize, true)
	for _, p := range a.stops {
		name = max(name, canvas.TextWidth(p.site, canvas.TextSize, true))
		for _, t := range p.asides {
			name = max(name, canvas.TextWidth(t, canvas.SmallSize, false))
		}
	}
	name = min(name, width*.3)
	const bank = 12.0 // where the river runs
	head := "passed"
	if a.running {
		head = "passed so far"
	}
	figures := max(canvas.TextWidth("100.0 %", canvas.TextSize, true), canvas.TextWidth(head, canvas.SmallSize, false))
	for _, p := range a.stops {
		figures = max(figures, canvas.TextWidth(interval(p.passed), canvas.SmallSize, false))
		if math.IsNaN(p.passed.Value) {
			figures = max(figures, canvas.TextWidth(instead(p.passed.Status), canvas.SmallSize, false))
		}
		if a.running {
			figures = max(figures, canvas.TextWidth("in the end 00.0 %", canvas.SmallSize, false))
		}
	}
	left := bank + 16 + name + 12
	right := width - figures - 14
	at := func(x float64) float64 { return left + (right-left)*min(100, max(0, x))/100 }
	ax := percentAxis(a.of)

	top, stopPitch := 30.0, a.pitch()
	bottom := top + stopPitch*float64(len(a.stops)) + barHeight + 20
	if a.running {
		bottom += 12
	}
	for _, t := range ax.thin(right - left) {
		s.Segment(at(t.at), top-4, at(t.at), bottom, canvas.Grid, canvas.Hairline)
		s.Text(at(t.at), bottom+canvas.Leading, t.label, canvas.TextStyle{Size: canvas.SmallSize, Anchor: canvas.Middle, Colour: &canvas.Muted})
	}
	s.Segment(left, bottom, right, bottom, canvas.Muted, canvas.Hairline)
	s.Text(right, bottom+2*canvas.Leading, ax.title, canvas.TextStyle{Size: canvas.SmallSize, Anchor: canvas.End, Colour: &canvas.Muted})
	s.Text(width, top-12, head, canvas.TextStyle{Size: canvas.SmallSize, Anchor: canvas.End, Colour: &canvas.Muted})

	// The river, with its sites.
	s.Segment(bank, top+barHeight/2, bank, top+stopPitch*float64(len(a.stops))+barHeight/2, canvas.Unseen, 5)
	place := func(y float64, site string, asides []string) {
		s.Hollow(bank, y+barHeight/2, 6, canvas.Disc, canvas.Seen)
		lines := canvas.Shorten(canvas.Wrap(site, canvas.TextSize, true, name), 2)
		base := y + barHeight/2 + 5 - float64(len(asides))*6 - float64(len(lines)-1)*7
		for _, l := range lines {
			s.Text(bank+16, base, l, canvas.TextStyle{Bold: true})
			base += canvas.Leading - 1
		}
		for _, t := range asides {
			s.Text(bank+16, base, t, canvas.TextStyle{Size: canvas.SmallSize, Colour: &canvas.Muted})
			base += canvas.Leading - 3
		}
	}
	place(top, a.first, nil)
	s.Stroke(canvas.Rectangle(left, top, right-left, barHeight), canvas.Muted, canvas.Hairline)
	s.Text(left+8, top+15, a.released, canvas.TextStyle{Size: canvas.SmallSize, Halo: true})

	var occur []cjs.Status
	away := false
	for i := range a.stops {
		p := &a.stops[i]
		y := top + stopPitch*float64(i+1)
		place(y, p.site, p.asides)
		occur = append(occur, p.passed.Status)
		known := !math.IsNaN(p.passed.Value)
		s.shows("passed "+p.site, p.passed, func() {
			if known && p.passed.Value > p.seen.Value {
				x, w := at(p.seen.Value), at(p.passed.Value)-at(p.seen.Value)
				if p.passed.Status == cjs.Borrowed {
					s.unsure(x, y, w, barHeight)
				} else {
					s.Fill(canvas.Rectangle(x, y, w, barHeight), canvas.Unseen)
				}
			}
			if !known {
				s.openBar(at(p.seen.Value), y, right-at(p.seen.Value), barHeight)
			}
		})
		s.shows("seen "+p.site, p.seen, func() {
			s.Fill(canvas.Rectangle(left, y, at(p.seen.Value)-left, barHeight), canvas.Seen)
		})
		reach := p.seen.Value
		if known {
			reach = max(reach, p.passed.Value)
		}
		if p.away.Value > 0 {
			away = true
			s.shows("still to pass "+p.site, p.away, func() {
				from, w := at(reach), at(reach+p.away.Value)-at(reach)
				s.Fill(canvas.Rectangle(from, y, w, barHeight), canvas.Away)
				s.Stroke(canvas.Rectangle(from, y, w, barHeight), canvas.Seen, canvas.Hairline, 3, 2)
			})
		}
		label := view.Digits(p.seen.Value, 1) + " %"
		if wide {
			label += " seen"
		}
		room := at(p.seen.Value)
		if !math.IsNaN(p.passed.Low) {
			room = min(room, at(p.passed.Low)-4) // the whisker begins there
		}
		if canvas.TextWidth(label, canvas.SmallSize, false)+12 < room-left {
			s.Text(left+7, y+15, label, canvas.TextStyle{Size: canvas.SmallSize, Colour: &canvas.Paper})
		} else {
			s.Text(left, y+barHeight+13, view.Digits(p.seen.Value, 1)+" % seen", canvas.TextStyle{Size: canvas.SmallSize, Colour: &canvas.Muted, Halo: true})
		}
		// While the season runs the end has a whisker below that of now.
		line := y + barHeight/2
		if !math.IsNaN(p.end.Low) && !math.IsNaN(p.end.High) {
			s.shows("passed in the end "+p.site, p.end, func() { s.whisker(&p.end, at, y+barHeight-4) })
			line = y + 7
		}
		if p.passed.Status == cjs.Boundary {
			s.Segment(at(p.passed.Value), y-3, at(p.passed.Value), y+barHeight+3, canvas.Ink, 2.4)
		}
		if p.passed.Status == cjs.Held {
			s.Mark(at(p.passed.Value), y+barHeight/2, 4.5, canvas.Cross, canvas.Ink)
		}
		s.whisker(&p.passed, at, line)
		if known {
			s.Text(width, y+8, view.Digits(p.passed.Value, 1)+" %", canvas.TextStyle{Bold: true, Anchor: canvas.End})
		} else {
			s.Text(width, y+8, instead(p.passed.Status), canvas.TextStyle{Size: canvas.SmallSize, Anchor: canvas.End, Colour: &canvas.Muted})
		}
		s.Text(width, y+22, interval(p.passed), canvas.TextStyle{Size: canvas.SmallSize, Anchor: canvas.End, Colour: &canvas.Muted})
		if a.running && !math.IsNaN(p.end.Low) {
			value := "in the end"
			if !math.IsNaN(p.end.Value) {
				value += " " + view.Digits(p.end.Value, 1) + " %"
			}
			s.Text(width, y+36, value, canvas.TextStyle{Size: canvas.SmallSize, Anchor: canvas.End, Colour: &canvas.Muted})
			s.Text(width, y+50, interval(p.end), canvas.TextStyle{Size: canvas.SmallSize, Anchor: canvas.End, Colour: &canvas.Muted})
		}
	}
	y := bottom + 2*canvas.Leading + 8
	return y + s.legend(y, width, a.key(s, occur, away)) + 4
}

// key names the parts of the bars and the statuses that occur.
func (a *along) key(s *drawing, occur []cjs.Status, away bool) []entry {
	out := []entry{{"seen", func(x, y float64) { s.Fill(canvas.Rectangle(x, y-1, 26, 12), canvas.Seen) }}}
	for _, st := range occur {
		if st == cjs.Estimated || st == cjs.Held || st == cjs.Boundary {
			out = append(out, entry{"passed unseen", func(x, y float64) { s.Fill(canvas.Rectangle(x, y-1, 26, 12), canvas.Unseen) }})
			break
		}
	}
	if away {
		out = append(out, entry{"still to pass", func(x, y float64) {
			s.Fill(canvas.Rectangle(x, y-1, 26, 12), canvas.Away)
			s.Stroke(canvas.Rectangle(x, y-1, 26, 12), canvas.Seen, canvas.Hairline, 3, 2)
		}})
	}
	for i := range a.stops {
		if e := &a.stops[i].passed; !math.IsNaN(e.Low) && !math.IsNaN(e.High) {
			words := a.level + " interval of what passed"
			if a.running {
				words = a.level + " intervals: so far (upper), in the end (lower)"
			}
			out = append(out, entry{words, func(x, y float64) {
				e := cjs.Estimate{Low: 0, High: 26}
				s.whisker(&e, func(v float64) float64 { return x + v }, y+5)
			}})
			break
		}
	}
	return append(out, s.explain(occur, true)...)
}

// whisker draws an interval on a rim of paper, so that it shows on any bar.
func (s *drawing) whisker(e *cjs.Estimate, at func(float64) float64, y float64) {
	if math.IsNaN(e.Low) && math.IsNaN(e.High) {
		return
	}
	const cap = 5
	low, high := at(e.Low), at(e.High)
	open := [2]bool{}
	if math.IsNaN(e.Low) {
		low, open[0] = at(0), true
	}
	if math.IsNaN(e.High) {
		high, open[1] = at(100), true
	}
	s.Segment(low, y, high, y, canvas.Paper, 4.5)
	ends := e.Status != cjs.TooEarly && e.Status != cjs.Inseparable
	for _, pen := range []struct {
		w float64
		c bool
	}{{4.5, true}, {1.8, false}} {
		c := canvas.Ink
		if pen.c {
			c = canvas.Paper
		}
		for i, x := range []float64{low, high} {
			if ends && !open[i] {
				s.Segment(x, y-cap, x, y+cap, c, pen.w)
			}
		}
	}
	s.reach(canvas.At(low, y), canvas.At(high, y), canvas.Ink, 1.8, e.Status, open)
}

func interval(e cjs.Estimate) string {
	if view.Bracket(e.Low, e.High, 1, "") == "" {
		return "" // nothing beside the value
	}
	return view.Span(e.Low, e.High, 1)
}
