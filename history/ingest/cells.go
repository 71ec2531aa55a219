package ingest

import (
	"sync"
	"sync/atomic"
)

// cells are what the records of each fish at each row have come to, by
// fish*rows+row. They are raised alone, whatever the order of the records, so
// that workers can share them, and are small, since they are met at random.
type cells struct {
	list []cell
	mu   sync.Mutex
	// many holds by cell the reads that are too many for it.
	many map[int]int64
}

// cell is what one fish's records at one row have come to. Its words hold the
// times, turned so that more is earlier, or later, above lowBits bits of
// something else: early those of the first block with a record, turned too and
// never 0, late the reads, the multiples of 1<<lowBits aside.
type cell struct{ early, late uint64 }

const (
	lowBits = 20
	lowMask = 1<<lowBits - 1
	// turn keeps every time that can be read above 0 and below 1<<44, either
	// way round.
	turn = 1 << 43
)

func newCells(n int) *cells { return &cells{list: make([]cell, n), many: map[int]int64{}} }

// turnBlock turns a block's number. Beyond a million of them, a hundred
// gigabytes, all count as one.
func turnBlock(block int) uint32 { return uint32(lowMask - min(block, lowMask-1)) }

func (c *cells) add(g *gathered) {
	x := &c.list[g.cell]
	for {
		old := atomic.LoadUint64(&x.early)
		to := max(old>>lowBits, uint64(g.first))<<lowBits | max(old&lowMask, uint64(g.block))
		if to == old || atomic.CompareAndSwapUint64(&x.early, old, to) {
			break
		}
	}
	for {
		old := atomic.LoadUint64(&x.late)
		reads := old&lowMask + uint64(g.reads)
		if atomic.CompareAndSwapUint64(&x.late, old, max(old>>lowBits, uint64(g.last))<<lowBits|reads&lowMask) {
			if reads > lowMask {
				c.addMany(g.cell, int64(reads&^lowMask))
			}
			return
		}
	}
}

func (c *cells) addMany(k int, reads int64) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.many[k] += reads
}

// touch has the memory of a cell fetched.
func (c *cells) touch(k int) uint64 { return atomic.LoadUint64(&c.list[k].early) }

// merged is what a cell has come to; reads is 0 where it was never met.
type merged struct {
	first, last, reads int64
	block              int // the first with a record
}

// merged is asked when all records are in.
func (c *cells) merged(k int) merged {
	x := c.list[k]
	if x.early == 0 {
		return merged{}
	}
	m := merged{
		first: turn - int64(x.early>>lowBits), last: int64(x.late>>lowBits) - turn,
		reads: int64(x.late & lowMask), block: lowMask - int(x.early&lowMask),
	}
	if len(c.many) > 0 {
		m.reads += c.many[k]
	}
	return m
}

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
	x.block = max(x.block, turnBlock(block))
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
