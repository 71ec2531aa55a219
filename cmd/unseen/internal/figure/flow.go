package figure

import (
	"fmt"
	"image/color"
	"slices"
	"strings"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/canvas"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/history"
)

// flow shows where fish were next seen: the river from top to bottom, a block
// for the fish released or seen at each site and one for those that passed it
// unseen, streams between them as wide as they have fish.
type flow struct {
	// never says what became of fish not seen again.
	never string
	sites []flowSite
	// next[i][j] fish of site i were next seen at site j.
	next [][]int
}

type flowSite struct {
	name                     string
	released, seen           int // newly released here; seen here
	never, removed, unseenIn int // never detected again; taken out here; passed here unseen, seen farther down
}

// Flow shows the next-seen table of all fish; nil where no fish can be seen
// again.
func Flow(d *analysis.Data) *Figure {
	h := d.Histories
	n := len(h.River.Sites)
	if n < 2 {
		return nil
	}
	f := &flow{never: "never detected again", sites: make([]flowSite, n), next: make([][]int, n)}
	if d.Running() {
		f.never = "not seen since"
	}
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
		said = append(said, fmt.Sprintf("of %s fish released, or released again, at %s, %s were next seen and %s %s",
			view.Digits(float64(goesOn[i]), 0), s.name, view.And(to), view.Digits(float64(s.never), 0), f.never))
	}
	again, all := 0, 0
	for i := range f.sites {
		all += goesOn[i]
		again += goesOn[i] - f.sites[i].never
	}
	caption := fmt.Sprintf("Of %s releases, counted again at each site where a fish was seen and went on, %s were followed by a detection downstream. Streams are as wide as they have fish.",
		view.Digits(float64(all), 0), view.Digits(float64(again), 0))
	return &Figure{
		ID:          "flow",
		Title:       "Where fish were next seen",
		Caption:     caption,
		Source:      dataSource(d),
		Table:       f.table(goesOn),
		Description: "Streams as wide as they have fish, the river running down: " + strings.Join(said, "; ") + ".",
		body:        f,
	}
}

// table is the next-seen table of all cohorts together.
func (f *flow) table(goesOn []int) view.Table {
	t := view.Table{ID: "next_seen_all", Title: "All cohorts: next seen at", Columns: []view.Column{
		{Name: "release_site", Title: "released at", Key: true}, {Name: "released", Title: "fish", Kind: view.Count}}}
	for _, s := range f.sites[1:] {
		t.Columns = append(t.Columns, view.Column{Name: s.name, Title: s.name, Kind: view.Count})
	}
	t.Columns = append(t.Columns, view.Column{Name: "never_again", Title: f.never, Kind: view.Count})
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

const (
	nodeH   = 14
	laneGap = 16
)

// draw lays the river out from top to bottom: at each site the fish seen, and
// beside them those that passed unseen and were seen farther down.
func (f *flow) draw(s *drawing, width float64) float64 {
	n := len(f.sites)
	pitch, names := 104.0, 0.0
	if n > 6 {
		pitch = 66
	}
	for i, x := range f.sites {
		names = max(names, canvas.TextWidth(x.name, canvas.TextSize, true))
		for k, l := range f.asides(i) {
			names = max(names, canvas.TextWidth(l, canvas.SmallSize, false))
			pitch = max(pitch, canvas.Leading+(canvas.Leading-2)*float64(k+1)+6)
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
	y := func(k int) float64 { return 10 + pitch*float64(k) }
	// Fish seen at site k stand from left on, those that passed it unseen from
	// lane(k) on.
	lane := func(k int) float64 { return left + px(f.sites[k].released+f.sites[k].seen) + laneGap }

	var numbers []func() // over all streams
	for k := range n - 1 {
		// From seen and from unseen, to seen and to unseen.
		var fish [2][2]int
		for i := range k + 1 {
			for j := k + 1; j < n; j++ {
				fish[of(i < k)][of(j > k+1)] += f.next[i][j]
			}
		}
		// What is never detected again leaves at the left.
		from := [2]float64{left + px(f.sites[k].never), lane(k)}
		to := [2]float64{left + px(f.sites[k+1].released), lane(k + 1)}
		for _, way := range [][2]int{{0, 0}, {0, 1}, {1, 0}, {1, 1}} {
			a, b := way[0], way[1]
			w := px(fish[a][b])
			if w == 0 {
				continue
			}
			c := canvas.Stream
			if a+b > 0 {
				c = canvas.Past
			}
			s.ribbon(from[a], y(k)+nodeH, to[b], y(k+1), w, c)
			if label := view.Digits(float64(fish[a][b]), 0); w > canvas.TextWidth(label, canvas.SmallSize, false)+6 {
				// Streams cross in the middle; their numbers stand where they begin.
				const along = .2
				x := from[a] + (to[b]-from[a])*bend(along) + w/2
				numbers = append(numbers, func() {
					s.Text(x, y(k)+nodeH+(pitch-nodeH)*along+4, label, canvas.TextStyle{Size: canvas.SmallSize, Anchor: canvas.Middle})
				})
			}
			from[a] += w
			to[b] += w
		}
	}
	for _, write := range numbers {
		write()
	}
	for k, x := range f.sites {
		top := y(k)
		s.Fill(canvas.Rectangle(left, top, px(x.released+x.seen), nodeH), canvas.Seen)
		if w := px(x.unseenIn); w > 0 {
			s.Fill(canvas.Rectangle(lane(k), top, w, nodeH), canvas.Past)
			s.Stroke(canvas.Rectangle(lane(k), top, w, nodeH), canvas.Seen, .8, 3, 2)
		}
		if w := px(x.never); w > 0 && k < n-1 {
			var p canvas.Path
			p.Move(left, top+nodeH)
			p.Line(left+w, top+nodeH)
			p.Curve(canvas.At(left+w, top+nodeH+.26*pitch), canvas.At(left+w*.2, top+nodeH+.21*pitch), canvas.At(left, top+nodeH+.43*pitch))
			p.Close()
			s.Fill(p, canvas.Loss)
		}
		if w := px(x.removed); w > 0 {
			r := left + px(x.released+x.seen)
			s.Fill(canvas.Polygon(canvas.At(r-w, top+nodeH), canvas.At(r, top+nodeH), canvas.At(r, top+nodeH+10)), canvas.Muted)
		}
		base := top + 5
		for _, l := range canvas.Shorten(canvas.Wrap(x.name, canvas.TextSize, true, names), 2) {
			s.Text(left-12, base, l, canvas.TextStyle{Bold: true, Anchor: canvas.End})
			base += canvas.Leading - 1
		}
		for _, l := range f.asides(k) {
			for _, part := range canvas.Wrap(l, canvas.SmallSize, false, names) {
				s.Text(left-12, base, part, canvas.TextStyle{Size: canvas.SmallSize, Anchor: canvas.End, Colour: &canvas.Muted})
				base += canvas.Leading - 2
			}
		}
	}
	foot := y(n-1) + nodeH + 2*canvas.Leading
	key := []entry{{"seen, or released there", func(x, y float64) { s.Fill(canvas.Rectangle(x, y-1, 26, 12), canvas.Seen) }}}
	if slices.ContainsFunc(f.sites, func(x flowSite) bool { return x.unseenIn > 0 }) {
		key = append(key, entry{"passed unseen, detected downstream", func(x, y float64) {
			s.Fill(canvas.Rectangle(x, y-1, 26, 12), canvas.Past)
			s.Stroke(canvas.Rectangle(x, y-1, 26, 12), canvas.Seen, .8, 3, 2)
		}})
	}
	key = append(key, entry{f.never, func(x, y float64) { s.Fill(canvas.Rectangle(x, y-1, 26, 12), canvas.Loss) }})
	return foot + s.legend(foot, width, key)
}

// of is the second of two where b holds.
func of(b bool) int {
	if b {
		return 1
	}
	return 0
}

// bend is how far a ribbon has gone across when it has gone that far down.
func bend(t float64) float64 { return t * t * (3 - 2*t) }

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
	add(x.unseenIn, "passed unseen")
	add(x.removed, "taken out")
	if k < len(f.sites)-1 {
		add(x.never, f.never)
	}
	return out
}

// ribbon draws a stream of a width from the bottom of one site to the top of
// another.
func (s *drawing) ribbon(x0, y0, x1, y1, w float64, c color.RGBA) {
	m := (y0 + y1) / 2
	var p, l, r canvas.Path
	p.Move(x0, y0)
	p.Curve(canvas.At(x0, m), canvas.At(x1, m), canvas.At(x1, y1))
	p.Line(x1+w, y1)
	p.Curve(canvas.At(x1+w, m), canvas.At(x0+w, m), canvas.At(x0+w, y0))
	p.Close()
	s.Fill(p, c)
	l.Move(x0, y0)
	l.Curve(canvas.At(x0, m), canvas.At(x1, m), canvas.At(x1, y1))
	r.Move(x0+w, y0)
	r.Curve(canvas.At(x0+w, m), canvas.At(x1+w, m), canvas.At(x1+w, y1))
	s.Stroke(l, canvas.Seen, .7)
	s.Stroke(r, canvas.Seen, .7)
}
