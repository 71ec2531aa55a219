package fishtable

import (
	"context"
	"math"
	"sync"

	"example.org/unseen/history/study"
	"example.org/unseen/history/table"
	"example.org/unseen/history/tagindex"
)

// readTable reads the tagging table, in parts where that can be.
func readTable(ctx context.Context, st *study.Study, form tagindex.Form, workers int) (*table.Table, *layout, *records, error) {
	if p := table.OpenParts(ctx, &st.Fish.Table); p != nil {
		if t, l, f := readParts(p, st, form, workers); f != nil {
			return t, l, f, nil
		}
	}
	t, err := table.OpenFor(ctx, &st.Fish.Table, "tag", "released")
	if err != nil {
		return nil, nil, nil, err
	}
	defer t.Close()
	l, err := newLayout(t, st, form)
	if err != nil {
		return nil, nil, nil, err
	}
	f := l.read(t, math.MaxInt)
	f.settle(t, l)
	return t, l, f, t.Err()
}

// readParts reads the tagging table in parts; nil where it must be read as one,
// whatever the reason.
func readParts(p *table.Parts, st *study.Study, form tagindex.Form, workers int) (*table.Table, *layout, *records) {
	defer p.Close()
	l, err := newLayout(p.Head(), st, form)
	if err != nil {
		return nil, nil, nil
	}
	// How times are written is told by the first, as when all are read as one.
	l.times = l.read(p.Start(), table.EnoughTimes).timeColumns
	j := &joiner{layout: l, head: p.Head(), all: l.newRecords(), ahead: map[int]*records{}}
	j.all.grow(p.Likely())
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			for t, n := p.Next(); t != nil; t, n = p.Next() {
				f := l.read(t, math.MaxInt)
				p.Took(t)
				j.add(n, f)
			}
		})
	}
	wg.Wait()
	t, ok := p.Whole()
	if j.all.settle(t, l); !ok || j.odd || t.Err() != nil {
		return nil, nil, nil
	}
	return t, l, j.all
}

// joiner puts the parts of the tagging table together, in their order.
type joiner struct {
	mu     sync.Mutex
	layout *layout
	head   *table.Table
	all    *records
	next   int // the part that comes next
	ahead  map[int]*records
	odd    bool // the parts do not fit together
}

// add takes part number n.
func (j *joiner) add(n int, f *records) {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.ahead[n] = f
	for f = j.ahead[j.next]; f != nil; f = j.ahead[j.next] {
		delete(j.ahead, j.next)
		j.next++
		j.odd = j.odd || !j.all.join(j.head, j.layout, f)
	}
}
