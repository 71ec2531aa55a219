package desk

import (
	"context"
	"fmt"
	"sync"
	"time"

	"example.org/unseen/cmd/unseen/internal/view"
)

// job is a long work that goes on while the page is looked at: one at a time.
type job struct {
	kind string
	of   int
	end  context.CancelFunc

	mu    sync.Mutex
	done  int
	began time.Time
	ended bool
}

// jobs is the work that goes on, or went on last.
type jobs struct {
	mu  sync.Mutex
	now *job
}

// jobState is how far a work is, for the page.
type jobState struct {
	Kind  string `json:"kind"`
	Done  int    `json:"done"`
	Of    int    `json:"of"`
	Words string `json:"words"`
	Ended bool   `json:"ended"`
}

func (j *jobs) state() *jobState {
	j.mu.Lock()
	now := j.now
	j.mu.Unlock()
	if now == nil {
		return nil
	}
	now.mu.Lock()
	defer now.mu.Unlock()
	s := &jobState{Kind: now.kind, Done: now.done, Of: now.of, Ended: now.ended}
	s.Words = fmt.Sprintf("%s of %s", view.Digits(float64(now.done), 0), view.Digits(float64(now.of), 0))
	if now.done > 0 && !now.ended {
		left := time.Duration(float64(time.Since(now.began)) / float64(now.done) * float64(now.of-now.done))
		switch {
		case left < time.Second:
		case left < 90*time.Second:
			s.Words += fmt.Sprintf(", about %d s left", int(left.Seconds()))
		default:
			s.Words += fmt.Sprintf(", about %d min left", int(left.Minutes()+0.5))
		}
	}
	return s
}

func (j *job) step() {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.done++
}

func (j *job) at(n, of int) {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.done, j.of = n, of
}

func (j *job) finished() bool {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.ended
}

// finding is what a work found, and after how many steps.
type finding struct {
	page    view.Page
	err     error
	steps   int
	stopped bool
	before  bool // it was kept from when the page was open last
}

// guarded makes an error of a fault of the program in work that no request is
// waiting for, so that the page goes on.
func guarded[T any](work func() (T, error)) (v T, err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("this is a fault of the program; please report it: %v", r)
		}
	}()
	return work()
}

// news tells all who wait that something changed.
type news struct {
	mu      sync.Mutex
	changed chan struct{}
}

// next is closed at the next change.
func (n *news) next() <-chan struct{} {
	n.mu.Lock()
	defer n.mu.Unlock()
	if n.changed == nil {
		n.changed = make(chan struct{})
	}
	return n.changed
}

func (n *news) tell() {
	n.mu.Lock()
	defer n.mu.Unlock()
	if n.changed != nil {
		close(n.changed)
		n.changed = nil
	}
}
