// Package cores shares tasks out among all cores.
package cores

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"
)

// Each does tasks 0 to n − 1, as many at once as there are cores; each core has a
// worker of its own. None is begun after ctx has ended.
func Each(ctx context.Context, n int, worker func() func(task int)) {
	workers := make([]func(task int), min(runtime.GOMAXPROCS(0), n))
	for i := range workers {
		workers[i] = worker()
	}
	var next atomic.Int64
	var wg sync.WaitGroup
	for _, do := range workers {
		wg.Go(func() {
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
