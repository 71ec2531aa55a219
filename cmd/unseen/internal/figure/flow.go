package figure

import (
	"fmt"
	"image/color"
	"slices"
	"strings"

	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/history"
)

// flow shows where fish were next seen: the river from top to bottom, a block
// for the fish released or seen at each site, streams to where they were next
// seen, as wide as they have fish.
type flow struct {
	sites []flowSite
	// next[i][j] fish of site i were next seen at site j.
	next [][]int
}

type flowSite struct {
	name                     string
	released, seen           int // newly released here; seen here
	never, removed, unseenIn int // never seen again; taken out here; passed here unseen, seen farther down
}

// Flow shows the next-seen table of all fish; nil where no fish can be seen
// again.
func Flow(h *history.Histories) *Figure {
	n := len(h.River.Sites)
	if n < 2 {
		return nil
	}
	f := &flow{sites: make([]flowSite, n), next: make([][]int, n)}
	for i := range f.next {
		f.next[i] = make([]int, n)
		f.sites[i].name = h.River.Sites[i].Name
	}
	goesOn := make([]int, n) // released or put back
	for _, x := range h.NextSeen() {
		goesOn[x.Site] += x.Released
		f.sites[x.Site].never += x.Never()
		for k, fish := range x.Next {
			f.next[x.Site][k] += fish
			f.sites[k].seen += fish
		}
	}
	masks := h.River.SiteMasks()
	for i := range h.Entry {
		if h.New(i) {
			f.sites[h.Entry[i]].released += h.Weight(i)
		}
		if h.End[i] == history.Removed {
			f.sites[h.LastSite(i, masks)].removed += h.Weight(i)
		}
	}
	for k := range n {
		for i := range k {
			for j := k + 1; j < n; j++ {
				f.sites[k].unseenIn += f.next[i][j]
			}
		}
	}
	var said []string
	for i, s := range f.sites {
		var to []string
		for j, fish := range f.next[i] {
			if fish > 0 {
				to = append(to, fmt.Sprintf("%s at %s", view.Digits(float64(fish), 0), f.sites[j].name))
			}
		}
		if i == n-1 || goesOn[i] == 0 {
			continue
		}
		if len(to) == 0 {
			to = []string{"none"}
		}
		said = append(said, fmt.Sprintf("of %s fish released or put back at %s, %s were next seen and %s never again",
			view.Digits(float64(goesOn[i]), 0), s.name, view.And(to), view.Digits(float64(s.never), 0)))
	}
	caption := "Streams are as wide as they have fish; grey ends are fish never seen again."
	if slices.ContainsFunc(f.sites, func(s flowSite) bool { return s.unseenIn > 0 }) {
		caption += " Pale streams pass a site unseen and are seen farther down."
	}
	return &Figure{
		ID:          "flow",
		Title:       "Where fish were next seen",
		Caption:     caption,
		Table:       f.table(goesOn),
		Description: "Streams as wide as they have fish, the river running down: " + strings.Join(said, "; ") + ".",
		body:        f,
	}
}

// table is the next-seen table of all cohorts together.
func (f *flow) table(goesOn []int) view.Table {
	t := view.Table{ID: "next_seen_all", Title: "All cohorts: next seen at", Columns: []view.Column{
		{Name: "release_site", Title: "released or put back at", Key: true}, {Name: "released", Title: "fish", Kind: view.Count}}}
	for _, s := range f.sites[1:] {
		t.Columns = append(t.Columns, view.Column{Name: s.name, Title: s.name, Kind: view.Count})
	}
	t.Columns = append(t.Columns, view.Column{Name: "never_again", Title: "never again", Kind: view.Count})
	for i, s := range f.sites[:len(f.sites)-1] {
		if goesOn[i] == 0 {
			continue
		}
		row := []view.Cell{view.T(s.name), view.I(goesOn[i])}
		for j := 1; j < len(f.sites); j++ {
			if j <= i {
				row = append(row, view.None())
			} else {
				row = append(row, view.I(f.next[i][j]))
			}
		}
		t.Rows = append(t.Rows, append(row, view.I(s.never)))
	}
	return t
}

var (
	streamFill = rgb(0xb9d3dd)
	pastFill   = awayFill
	loss       = rgb(0xe9e6e1)
)

const (
	nodeH   = 14
	laneGap = 16
)

func (f *flow) draw(s *scene, width float64) float64 {
	n := len(f.sites)
	pitch := min(116, max(82, 640/float64(n)))
	names := 0.0
	for i, x := range f.sites {
		names = max(names, textWidth(x.name, textSize, true))
		for _, l := range f.asides(i) {
			names = max(names, textWidth(l, smallSize, false))
		}
	}
	names = min(names, width*.36)
	left := names + 14
	widest := 1
	for _, x := range f.sites {
		widest = max(widest, x.released+x.seen+x.unseenIn)
	}
	scale := (width - left - laneGap - 2) / float64(widest)
	px := func(fish int) float64 { return scale * float64(fish) }

	// where[i][j][k] is the left edge of stream i→j where it passes site k.
	type stream struct{ i, j int }
	past := map[stream]map[int]float64{}
	in := map[stream]float64{}
	out := map[stream]float64{}
	for k := range n {
		x := left + px(f.sites[k].released)
		for i := k - 1; i >= 0; i-- {
			in[stream{i, k}] = x
			x += px(f.next[i][k])
		}
		// What is never seen again leaves at the left, what is taken out at the right.
		x = left + px(f.sites[k].never)
		if k == n-1 {
			x = left
		}
		for j := k + 1; j < n; j++ {
			out[stream{k, j}] = x
			x += px(f.next[k][j])
		}
		x = left + px(f.sites[k].released+f.sites[k].seen) + laneGap
		for j := k + 1; j < n; j++ {
			for i := k - 1; i >= 0; i-- {
				st := stream{i, j}
				if past[st] == nil {
					past[st] = map[int]float64{}
				}
				past[st][k] = x
				x += px(f.next[i][j])
			}
		}
	}
	y := func(k int) float64 { return 10 + pitch*float64(k) }

	// Streams that skip sites first, so that they run behind the others.
	for skip := n - 1; skip >= 1; skip-- {
		for i := 0; i+skip < n; i++ {
			st := stream{i, i + skip}
			w := px(f.next[st.i][st.j])
			if w == 0 {
				continue
			}
			x := out[st]
			for k := i; k < st.j; k++ {
				to := in[st]
				if k+1 < st.j {
					to = past[st][k+1]
				}
				c := streamFill
				if skip > 1 {
					c = pastFill
				}
				s.ribbon(x, y(k)+nodeH, to, y(k+1), w, c, skip > 1)
				if k+1 < st.j {
					s.fill(rectangle(to, y(k+1), w, nodeH), pastFill)
					s.segment(to, y(k+1), to, y(k+1)+nodeH, seenFill, .8)
					s.segment(to+w, y(k+1), to+w, y(k+1)+nodeH, seenFill, .8)
				}
				if label := view.Digits(float64(f.next[st.i][st.j]), 0); k == i && w > textWidth(label, smallSize, false)+6 {
					s.text(x+(to-x)*.3+w/2, y(k)+nodeH+pitch*.36, label, words{size: smallSize, anchor: middle})
				}
				x = to
			}
		}
	}
	for k, x := range f.sites {
		top := y(k)
		s.fill(rectangle(left, top, px(x.released+x.seen), nodeH), seenFill)
		if w := px(x.never); w > 0 && k < n-1 {
			var p path
			p.move(left, top+nodeH)
			p.line(left+w, top+nodeH)
			p.curve(point{left + w, top + nodeH + .26*pitch}, point{left + w*.2, top + nodeH + .21*pitch}, point{left, top + nodeH + .43*pitch})
			p.close()
			s.fill(p, loss)
		}
		if w := px(x.removed); w > 0 {
			r := left + px(x.released+x.seen)
			s.fill(polygon(point{r - w, top + nodeH}, point{r, top + nodeH}, point{r, top + nodeH + 10}), muted)
		}
		base := top + 5
		for _, l := range shorten(wrap(x.name, textSize, true, names), 2) {
			s.text(left-12, base, l, words{bold: true, anchor: end})
			base += leading - 1
		}
		for _, l := range f.asides(k) {
			for _, part := range wrap(l, smallSize, false, names) {
				s.text(left-12, base, part, words{size: smallSize, anchor: end, colour: &muted})
				base += leading - 2
			}
		}
		if x.unseenIn > 0 {
			// Over its lanes where there is room, else flush with the edge.
			from := left + px(x.released+x.seen) + laneGap
			label := fmt.Sprintf("%s unseen here", view.Digits(float64(x.unseenIn), 0))
			from = min(from, width-textWidth(label, smallSize, false)-2)
			s.text(from, top-5, label, words{size: smallSize, halo: true})
		}
	}
	return y(n-1) + nodeH + 3*leading
}

func (f *flow) asides(k int) []string {
	x := f.sites[k]
	var out []string
	add := func(n int, what string) {
		if n > 0 {
			out = append(out, view.Digits(float64(n), 0)+" "+what)
		}
	}
	add(x.released, "released")
	add(x.seen, "seen")
	add(x.removed, "taken out")
	if k < len(f.sites)-1 {
		add(x.never, "never seen again")
	}
	return out
}

// ribbon draws a stream of a width from the bottom of one site to the top of
// another.
func (s *scene) ribbon(x0, y0, x1, y1, w float64, c color.RGBA, outlined bool) {
	m := (y0 + y1) / 2
	var p, l, r path
	p.move(x0, y0)
	p.curve(point{x0, m}, point{x1, m}, point{x1, y1})
	p.line(x1+w, y1)
	p.curve(point{x1 + w, m}, point{x0 + w, m}, point{x0 + w, y0})
	p.close()
	s.fill(p, c)
	edge := 0.6
	if outlined {
		edge = .8
	}
	l.move(x0, y0)
	l.curve(point{x0, m}, point{x1, m}, point{x1, y1})
	r.move(x0+w, y0)
	r.curve(point{x0 + w, m}, point{x1 + w, m}, point{x1 + w, y1})
	s.stroke(l, seenFill, edge)
	s.stroke(r, seenFill, edge)
}
