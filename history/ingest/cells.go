package ingest

import (
	"math"
	"sync/atomic"
)

// cells are what the records of each fish at each row have come to, by
// fish*rows+row. All of it grows only, from 0, whatever the order of the
// records, so that workers can share the cells: first and last are turned so
// that more is earlier, or later. first and last become the histories' own
// columns, hence two slices.
type cells struct {
	first, last []int64
	count       []cellCount
}

type cellCount struct {
	reads uint32
	block uint32 // of the first record, turned too; 0 for none
}

func newCells(n int) *cells {
	return &cells{make([]int64, n), make([]int64, n), make([]cellCount, n)}
}

// turn keeps every time that can be read above 0, either way round.
const turn = 1 << 43

func (c *cells) add(g *gathered) {
	raise(&c.first[g.cell], g.first)
	raise(&c.last[g.cell], g.last)
	n := &c.count[g.cell]
	atomic.AddUint32(&n.reads, g.reads)
	for {
		old := atomic.LoadUint32(&n.block)
		if g.block <= old || atomic.CompareAndSwapUint32(&n.block, old, g.block) {
			return
		}
	}
}

// touch has the memory of a cell fetched.
func (c *cells) touch(k int) uint64 {
	return uint64(atomic.LoadInt64(&c.first[k])) + uint64(atomic.LoadInt64(&c.last[k])) + uint64(atomic.LoadUint32(&c.count[k].reads))
}

func raise(to *int64, v int64) {
	for {
		old := atomic.LoadInt64(to)
		if v <= old || atomic.CompareAndSwapInt64(to, old, v) {
			return
		}
	}
}

func (c *cells) firstBlock(k int) int { return int(math.MaxUint32 - c.count[k].block) }

// turnBack makes first and last of a cell with reads plain times.
func (c *cells) turnBack(k int) { c.first[k], c.last[k] = turn-c.first[k], c.last[k]-turn }

// gathered are records of one cell on their way to it, turned as it is.
type gathered struct {
	first, last  int64
	cell         int
	reads, block uint32
}

// gather is one worker's way to the cells. The records of a fish at an antenna
// come close together: they are gathered before their cell is fetched from
// memory, and then the cells of many are fetched at a time.
type gather struct {
	cells   *cells
	lately  [1 << gathering]gathered
	going   [batchSize]gathered
	n       int
	touched uint64
}

// gathering is the power of two of the cells whose records are gathered.
const gathering = 11

// add takes a record of cell k in.
func (g *gather) add(k int, ms int64, block int) {
	x := &g.lately[uint64(k)*scatter>>(64-gathering)]
	if x.cell != k || x.reads == 0 {
		g.start(x, k)
	}
	x.first, x.last = max(x.first, turn-ms), max(x.last, turn+ms)
	x.block = max(x.block, math.MaxUint32-uint32(block))
	x.reads++
}

// start makes room for another cell in x.
func (g *gather) start(x *gathered, k int) {
	if x.reads > 0 {
		g.send(x)
	}
	*x = gathered{cell: k}
}

func (g *gather) send(x *gathered) {
	g.going[g.n] = *x
	if g.n++; g.n == len(g.going) {
		g.deliver()
	}
}

// deliver fetches the cells of all that wait before the first is changed.
func (g *gather) deliver() {
	touched := uint64(0)
	for i := range g.going[:g.n] {
		touched += g.cells.touch(g.going[i].cell)
	}
	g.touched += touched
	for i := range g.going[:g.n] {
		g.cells.add(&g.going[i])
	}
	g.n = 0
}

// finish sends what is left.
func (g *gather) finish() {
	for i := range g.lately {
		if x := &g.lately[i]; x.reads > 0 {
			g.send(x)
			x.reads = 0
		}
	}
	g.deliver()
}
