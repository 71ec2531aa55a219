package sighting

import (
	"context"
	"sync"
	"sync/atomic"

	"example.org/unseen/history"
	"example.org/unseen/history/rule"
)

// passageCount is what became of the passages of some fish, one after the other.
type passageCount struct {
	// aside are those that a passage rule set aside.
	aside []passageAside
	// kept is the passages that count and repeats their records but the first.
	kept, repeats int64
	parked        tally // of tags that stayed, by cell
	turned        []TurnedBack
}

// TurnedBack is a fish that came to a site only after one farther down.
type TurnedBack struct {
	Above, Below int   // the two sites
	By           int64 // how much later, in milliseconds
}

// passageAside is a passage that a rule set aside.
type passageAside struct {
	cell  int
	rule  rule.ID
	reads int64
	block int // the first with a record
}

// someFish is how many fish are looked at at a time.
const someFish = 1 << 13

// judgePassages applies the passage rules, fish by fish, and writes what counts
// into the histories.
func (r *run) judgePassages(ctx context.Context) (*passageCount, error) {
	h := r.judge.fish.Histories
	h.First, h.Last = r.cells.early, r.cells.late
	some := make([]passageCount, (h.Len()+someFish-1)/someFish)
	var wg sync.WaitGroup
	var next atomic.Int64
	for range r.opt.Workers {
		wg.Go(func() {
			look := newPassageRules(r, h)
			for n := int(next.Add(1)) - 1; n < len(some) && ctx.Err() == nil; n = int(next.Add(1)) - 1 {
				for i := n * someFish; i < min((n+1)*someFish, h.Len()); i++ {
					look.fish(i, &some[n])
				}
			}
		})
	}
	wg.Wait()
	all := &passageCount{}
	for i := range some {
		s := &some[i]
		all.aside = append(all.aside, s.aside...)
		all.kept += s.kept
		all.repeats += s.repeats
		all.parked.join(s.parked)
		all.turned = append(all.turned, s.turned...)
	}
	r.judge.asidePassages = map[int]rule.ID{}
	for _, x := range all.aside {
		r.judge.asidePassages[x.cell] = x.rule
		r.total.boxes[x.rule].n += x.reads
		r.total.fish[x.rule].add(int32(x.cell/r.judge.rows), r.judge.fish.Known)
	}
	r.cells = nil
	return all, ctx.Err()
}

// passageRules is one worker's way through the fish.
type passageRules struct {
	run                    *run
	hist                   *history.Histories
	site                   []int // of each row
	km                     []float64
	fastest                float64 // 0: the rule is off
	inOrder, lookForParked bool
	parkedDays             float64
	passages               []rule.Passage // of a fish
	at                     []int          // their cells
	blocks                 []int          // the first of each
}

func newPassageRules(r *run, h *history.Histories) *passageRules {
	p := &passageRules{
		run: r, hist: h, site: h.River.SiteOfRow(),
		inOrder: !r.opt.Off[rule.Of(rule.OutOfOrder).ID], lookForParked: !r.opt.Off["parked_tag"],
		parkedDays: rule.ParkedDays(r.st),
	}
	for i := range h.River.Sites {
		p.km = append(p.km, h.River.Sites[i].Km)
	}
	if !r.opt.Off[rule.Of(rule.TooFast).ID] {
		p.fastest = max(0, r.st.Rules.FastestKmPerDay)
	}
	return p
}

// fish looks at a fish and turns its cells into its history: the times of its
// passages take the places of the words they came from.
func (p *passageRules) fish(i int, to *passageCount) {
	c, h, flags, rows := p.run.cells, p.hist, &p.run.judge.fish.Flags[i], len(p.site)
	p.passages, p.at, p.blocks = p.passages[:0], p.at[:0], p.blocks[:0]
	for k := i * rows; k < (i+1)*rows; k++ {
		m := c.passage(k)
		h.First[k], h.Last[k] = history.NoTime, history.NoTime
		if m.reads == 0 {
			continue
		}
		p.passages = append(p.passages, rule.Passage{Site: p.site[k-i*rows], First: m.first, Last: m.last, Reads: m.reads})
		p.at, p.blocks = append(p.at, k), append(p.blocks, m.block)
		if p.lookForParked && m.reads > 1 && rule.Parked(m.first, m.last, m.reads, p.parkedDays) {
			*flags |= history.Parked
			to.parked.add(int64(k))
		}
	}
	if len(p.passages) == 0 {
		return
	}
	var fast, turned uint64
	if p.fastest > 0 {
		fast = rule.FindTooFast(p.passages, h.Released[i], int(h.Entry[i]), p.km, p.fastest)
	}
	if p.inOrder && len(p.passages) > 1 {
		turned = rule.FindOutOfOrder(p.passages, fast)
	}
	for n, k := range p.at {
		x := &p.passages[n]
		switch {
		case fast>>n&1 == 1:
			*flags |= history.TooFast
			to.aside = append(to.aside, passageAside{k, rule.TooFast, x.Reads, p.blocks[n]})
		case turned>>n&1 == 1:
			*flags |= history.TurnedBack
			to.aside = append(to.aside, passageAside{k, rule.OutOfOrder, x.Reads, p.blocks[n]})
			to.turned = p.turnedBack(n, to.turned)
		default:
			h.Seen[i] |= 1 << (k - i*rows)
			h.First[k], h.Last[k] = x.First, x.Last
			to.kept++
			to.repeats += x.Reads - 1
		}
	}
}

// turnedBack adds the sites farther down that the fish came to before passage n;
// of the rows of a site the first passage tells.
func (p *passageRules) turnedBack(n int, to []TurnedBack) []TurnedBack {
	x := &p.passages[n]
	for _, y := range p.passages[:n] {
		if y.Site == x.Site {
			return to
		}
	}
	below := -1
	for _, y := range p.passages[n+1:] {
		if y.Site > x.Site && y.Site != below && y.First < x.First {
			below = y.Site
			to = append(to, TurnedBack{x.Site, y.Site, x.First - y.First})
		}
	}
	return to
}
