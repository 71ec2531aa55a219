package sighting

import (
	"sync"
	"sync/atomic"
)

// cells are the passages that the records of each fish at each row have come to
// so far, by fish*rows+row. Their words are only ever raised, whatever the order
// of the records, so that workers can share them without a lock; and they are
// small, since they are met at random.
//
// A word holds times, turned so that more is earlier, or later, above lowBits
// bits of something else: early those of the first block with a record, turned
// too and never 0, late the reads, the multiples of 1<<lowBits aside. In the end
// each word makes room for the time that it came to: see [passageRules.fish].
type cells struct {
	early, late []int64
	mu          sync.Mutex
	// many holds by cell the reads that are too many for it.
	many map[int]int64
}

const (
	lowBits = 20
	lowMask = 1<<lowBits - 1
	// turn keeps every time that can be read above 0 and below 1<<44, either
	// way round.
	turn = 1 << 43
)

func newCells(n int) *cells {
	return &cells{early: make([]int64, n), late: make([]int64, n), many: map[int]int64{}}
}

// turnBlock turns a block's number. Beyond a million of them, a hundred
// gigabytes, all count as one.
func turnBlock(block int) uint32 { return uint32(lowMask - min(block, lowMask-1)) }

func (c *cells) add(g *bundle) {
	for x := &c.early[g.cell]; ; {
		was := atomic.LoadInt64(x)
		old := uint64(was)
		to := max(old>>lowBits, uint64(g.first))<<lowBits | max(old&lowMask, uint64(g.block))
		if to == old || atomic.CompareAndSwapInt64(x, was, int64(to)) {
			break
		}
	}
	for x := &c.late[g.cell]; ; {
		was := atomic.LoadInt64(x)
		old := uint64(was)
		reads := old&lowMask + uint64(g.reads)
		if atomic.CompareAndSwapInt64(x, was, int64(max(old>>lowBits, uint64(g.last))<<lowBits|reads&lowMask)) {
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

// fetch has the memory of a cell fetched; its value means nothing.
func (c *cells) fetch(k int) int64 {
	return atomic.LoadInt64(&c.early[k]) + atomic.LoadInt64(&c.late[k])
}

// passage is what a cell has come to; reads is 0 where there is none.
type passage struct {
	first, last, reads int64
	block              int // the first with a record
}

// passage is asked when all records are in.
func (c *cells) passage(k int) passage {
	early, late := uint64(c.early[k]), uint64(c.late[k])
	if early == 0 {
		return passage{}
	}
	m := passage{
		first: turn - int64(early>>lowBits), last: int64(late>>lowBits) - turn,
		reads: int64(late & lowMask), block: lowMask - int(early&lowMask),
	}
	if len(c.many) > 0 {
		m.reads += c.many[k]
	}
	return m
}

// bundle is records of one cell on their way to it, turned as it is.
type bundle struct {
	first, last  int64
	cell         int
	reads, block uint32
}

// bundler is one worker's way to the cells. The records of a fish at an antenna
// come close together: they are bundled before their cell is fetched from
// memory, and then the cells of many are fetched at a time.
type bundler struct {
	cells   *cells
	open    [1 << bundleBits]bundle
	sent    [batchSize]bundle
	n       int
	fetched int64
}

// bundleBits is how many bundles are open at a time, as a power of two.
const bundleBits = 11

// add takes a record of cell k in.
func (g *bundler) add(k int, ms int64, block int) {
	x := &g.open[uint64(k)*scatter>>(64-bundleBits)]
	if x.cell != k || x.reads == 0 {
		g.start(x, k)
	}
	x.first, x.last = max(x.first, turn-ms), max(x.last, turn+ms)
	x.block = max(x.block, turnBlock(block))
	x.reads++
}

// start makes room for another cell in x.
func (g *bundler) start(x *bundle, k int) {
	if x.reads > 0 {
		g.send(x)
	}
	*x = bundle{cell: k}
}

func (g *bundler) send(x *bundle) {
	g.sent[g.n] = *x
	if g.n++; g.n == len(g.sent) {
		g.deliver()
	}
}

// deliver fetches the cells of all that wait before the first is changed.
func (g *bundler) deliver() {
	fetched := int64(0)
	for i := range g.sent[:g.n] {
		fetched += g.cells.fetch(g.sent[i].cell)
	}
	g.fetched += fetched
	for i := range g.sent[:g.n] {
		g.cells.add(&g.sent[i])
	}
	g.n = 0
}

// finish sends what is left.
func (g *bundler) finish() {
	for i := range g.open {
		if x := &g.open[i]; x.reads > 0 {
			g.send(x)
			x.reads = 0
		}
	}
	g.deliver()
}
