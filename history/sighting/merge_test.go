package sighting

import (
	"math"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A cell tells of more reads, and of farther blocks, than its words have room
// for, whoever adds them.
func TestCellsOverflow(t *testing.T) {
	c := newCells(3)
	var wg sync.WaitGroup
	const workers, adds, reads = 4, 1000, 3001 // twelve million reads
	for w := range workers {
		wg.Go(func() {
			for i := range adds {
				ms := int64(1_700_000_000_000 + w*adds + i)
				c.add(&bundle{cell: 1, first: turn - ms, last: turn + ms, reads: reads, block: turnBlock(7 + w)})
			}
		})
	}
	wg.Wait()
	assert.Equal(t, passage{first: 1_700_000_000_000, last: 1_700_000_000_000 + workers*adds - 1, reads: workers * adds * reads, block: 7}, c.passage(1))
	assert.Equal(t, passage{}, c.passage(0))

	g := bundler{cells: c}
	g.add(2, -5, 3_000_000)
	g.finish()
	far := c.passage(2)
	assert.Equal(t, lowMask-1, far.block, "the last that is told apart")
	assert.EqualValues(t, -5, far.first)
	assert.EqualValues(t, -5, far.last)
	assert.EqualValues(t, 1, far.reads)

	// Exactly as many as the word has room for leave nought in it.
	c.add(&bundle{cell: 0, first: turn, last: turn, reads: lowMask + 1, block: turnBlock(0)})
	require.EqualValues(t, lowMask+1, c.passage(0).reads)
	assert.Equal(t, 0, c.passage(0).block)
	assert.Zero(t, c.late[0]&lowMask)

	for _, ms := range []int64{-631_152_000_000, 4_102_444_800_000} { // 1950 and 2100
		assert.Less(t, uint64(turn-ms), uint64(math.MaxUint64>>lowBits))
		assert.Positive(t, turn+ms)
	}
}
