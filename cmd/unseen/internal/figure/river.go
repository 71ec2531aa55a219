package figure

import (
	"math"

	"example.org/unseen/cjs"
	"example.org/unseen/cmd/unseen/internal/view"
)

// along is the river from top to bottom with a bar at each site: fish seen,
// passed unseen, and still on their way, in percent of those released.
type along struct {
	released string // the label of the bar of all fish
	first    string // where they were released
	stops    []stop
	// running: the season goes on, and what passed is so far.
	running bool
}

type stop struct {
	site, aside  string
	seen, passed cjs.Estimate // percent
	// away is the share still to pass, and end what will have passed by the
	// season's end; both Absent when it is over.
	away, end cjs.Estimate
}

const barHeight = 22

// pitch is the distance of the bars: closer where there are many.
func (a *along) pitch() float64 { return min(62, max(46, 430/float64(len(a.stops)))) }

func (a *along) draw(s *scene, width float64) float64 {
	wide := width >= Wide
	name := textWidth(a.first, textSize, true)
	for _, p := range a.stops {
		name = max(name, textWidth(p.site, textSize, true), textWidth(p.aside, smallSize, false))
	}
	name = min(name, width*.3)
	const bank = 12.0 // where the river runs
	head := "passed"
	if a.running {
		head = "passed so far"
	}
	figures := max(textWidth("100.0 %", textSize, true), textWidth(head, smallSize, false))
	for _, p := range a.stops {
		figures = max(figures, textWidth(interval(p.passed), smallSize, false))
		if a.running {
			figures = max(figures, textWidth("in the end 00.0 %", smallSize, false))
		}
	}
	left := bank + 16 + name + 12
	right := width - figures - 14
	at := func(x float64) float64 { return left + (right-left)*x/100 }
	ax := percentAxis("% of the fish released")

	top, stopPitch := 30.0, a.pitch()
	bottom := top + stopPitch*float64(len(a.stops)) + barHeight + 20
	for _, t := range ax.thin(right - left) {
		s.segment(at(t.at), top-4, at(t.at), bottom, grid, hairline)
		s.text(at(t.at), bottom+leading, t.label, words{size: smallSize, anchor: middle, colour: &muted})
	}
	s.segment(left, bottom, right, bottom, muted, hairline)
	s.text(right, bottom+2*leading, ax.title, words{size: smallSize, anchor: end, colour: &muted})
	s.text(width, top-12, head, words{size: smallSize, anchor: end, colour: &muted})

	// The river, with its sites.
	s.segment(bank, top+barHeight/2, bank, top+stopPitch*float64(len(a.stops))+barHeight/2, unseenFill, 5)
	place := func(y float64, site, aside string) {
		s.mark(bank, y+barHeight/2, 6, ring, seenFill)
		lines := shorten(wrap(site, textSize, true, name), 2)
		base := y + barHeight/2 + 5
		if aside != "" {
			base -= 5
		}
		base -= float64(len(lines)-1) * 7
		for _, l := range lines {
			s.text(bank+16, base, l, words{bold: true})
			base += leading - 1
		}
		s.text(bank+16, base, aside, words{size: smallSize, colour: &muted})
	}
	place(top, a.first, "")
	s.stroke(rectangle(left, top, right-left, barHeight), muted, hairline)
	s.text(left+8, top+15, a.released, words{size: smallSize, halo: true})

	named := false
	for i := range a.stops {
		p := &a.stops[i]
		y := top + stopPitch*float64(i+1)
		place(y, p.site, p.aside)
		known := !math.IsNaN(p.passed.Value)
		s.fill(rectangle(left, y, at(p.seen.Value)-left, barHeight), seenFill)
		reach := p.seen.Value
		if known && p.passed.Value > p.seen.Value {
			s.fill(rectangle(at(p.seen.Value), y, at(p.passed.Value)-at(p.seen.Value), barHeight), unseenFill)
			reach = p.passed.Value
		}
		if p.away.Value > 0 {
			from, w := at(reach), at(min(100, reach+p.away.Value))-at(reach)
			s.fill(rectangle(from, y, w, barHeight), awayFill)
			s.stroke(rectangle(from, y, w, barHeight), seenFill, hairline, 3, 2)
		}
		if !named && known {
			// The first bar names its parts.
			named = true
			s.text(left, y-7, "seen", words{size: smallSize, halo: true})
			from := max(at(p.seen.Value), left+textWidth("seen ", smallSize, false)+6)
			s.text(from, y-7, "passed unseen", words{size: smallSize, halo: true})
			if p.away.Value > 0 {
				from = max(at(reach), from+textWidth("passed unseen ", smallSize, false)+6)
				s.text(from, y-7, "still to pass", words{size: smallSize, halo: true})
			}
		}
		label := view.Digits(p.seen.Value, 1) + " %"
		if wide {
			label += " seen"
		}
		room := at(p.seen.Value)
		if known && p.passed.Low < p.seen.Value {
			room = at(p.passed.Low) - 4 // the whisker begins there
		}
		if textWidth(label, smallSize, false)+12 < room-left {
			s.text(left+7, y+15, label, words{size: smallSize, colour: &paper})
		} else {
			s.text(left, y+barHeight+13, view.Digits(p.seen.Value, 1)+" % seen", words{size: smallSize, colour: &muted, halo: true})
		}
		if !known {
			if !math.IsNaN(p.passed.Low) && !math.IsNaN(p.passed.High) {
				s.whisker(at(p.passed.Low), at(p.passed.High), y+barHeight/2)
				s.text(width, y+25, interval(p.passed), words{size: smallSize, anchor: end, colour: &muted})
				continue
			}
			s.text(max(at(p.seen.Value), left)+8, y+15, "passed: cannot be told", words{size: smallSize, colour: &muted, halo: true})
			continue
		}
		if !math.IsNaN(p.passed.Low) && !math.IsNaN(p.passed.High) {
			s.whisker(at(p.passed.Low), at(p.passed.High), y+barHeight/2)
		}
		s.text(width, y+10, view.Digits(p.passed.Value, 1)+" %", words{bold: true, anchor: end})
		s.text(width, y+25, interval(p.passed), words{size: smallSize, anchor: end, colour: &muted})
		if a.running && !math.IsNaN(p.end.Value) {
			s.text(width, y+39, "in the end "+view.Digits(p.end.Value, 1)+" %", words{size: smallSize, anchor: end, colour: &muted})
		}
	}
	return bottom + 2*leading + 10
}

// whisker draws an interval on a rim of paper, so that it shows on any bar.
func (s *scene) whisker(low, high, y float64) {
	const cap = 5
	for _, pen := range []struct {
		w     float64
		paper bool
	}{{4.5, true}, {1.8, false}} {
		c := ink
		if pen.paper {
			c = paper
		}
		s.segment(low, y, high, y, c, pen.w)
		s.segment(low, y-cap, low, y+cap, c, pen.w)
		s.segment(high, y-cap, high, y+cap, c, pen.w)
	}
}

func interval(e cjs.Estimate) string {
	if view.Bracket(e.Low, e.High, 1, "") == "" {
		return "" // nothing beside the value
	}
	return view.Span(e.Low, e.High, 1)
}
