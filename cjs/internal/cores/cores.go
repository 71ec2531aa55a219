// Package cores shares tasks out among all cores.
package cores

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"
)

// Each does tasks 0 to n − 1, as many at once as there are cores. Each core has a
// worker of its own, which it makes. No task is begun after ctx has ended.
func Each(ctx context.Context, n int, worker func() func(task int)) {
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), n) {
		wg.Go(func() {
			do := worker()
			for ctx.Err() == nil {
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				do(i)
			}
		})
	}
	wg.Wait()
}

// Counter counts what has been done of so much: done, which may be nil, is told
// each time, by one goroutine at a time and in order.
func Counter(of int, done func(n, of int)) (count func()) {
	if done == nil {
		return func() {}
	}
	var mu sync.Mutex
	n := 0
	return func() {
		mu.Lock()
		defer mu.Unlock()
		n++
		done(n, of)
	}
}
