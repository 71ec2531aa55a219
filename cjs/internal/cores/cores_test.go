package cores

import (
	"context"
	"slices"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestEachTaskOnce: every task is done once, and no worker does two at a time.
func TestEachTaskOnce(t *testing.T) {
	for _, n := range []int{0, 1, 2, 1000} {
		var mu sync.Mutex
		var got []int
		var twice atomic.Bool
		Each(t.Context(), n, func() func(int) {
			var busy atomic.Bool
			return func(i int) {
				if busy.Swap(true) {
					twice.Store(true)
				}
				mu.Lock()
				got = append(got, i)
				mu.Unlock()
				busy.Store(false)
			}
		})
		slices.Sort(got)
		want := make([]int, 0, n)
		for i := range n {
			want = append(want, i)
		}
		assert.Equal(t, want, append([]int{}, got...))
		assert.False(t, twice.Load())
	}
}

// TestNoTaskAfterTheEnd: once its context has ended none is begun.
func TestNoTaskAfterTheEnd(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	var begun atomic.Int64
	Each(ctx, 1_000_000, func() func(int) {
		return func(int) {
			begun.Add(1)
			stop()
		}
	})
	assert.Less(t, begun.Load(), int64(1000)) // one a core, but for those at it already
	Each(ctx, 10, func() func(int) { return func(int) { t.Error("begun") } })
}

// TestCounterCountsInOrder: whoever is told hears 1, 2, 3, … once each.
func TestCounterCountsInOrder(t *testing.T) {
	var heard []int
	count := Counter(500, func(n, of int) {
		assert.Equal(t, 500, of)
		heard = append(heard, n) // the race detector sees two at once
	})
	Each(t.Context(), 500, func() func(int) { return func(int) { count() } })
	want := make([]int, 500)
	for i := range want {
		want[i] = i + 1
	}
	assert.Equal(t, want, heard)
	Counter(1, nil)() // nobody is told
}
