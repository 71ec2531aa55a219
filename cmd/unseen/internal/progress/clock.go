package progress

import (
	"fmt"
	"io"
	"sync"
	"time"

	"golang.org/x/term"
)

const (
	// silence is how long a terminal may show nothing new until it is told that
	// work goes on.
	silence = time.Second
	tick    = 500 * time.Millisecond
	clear   = "\r\x1b[K"
)

// Clock is a terminal on which the time since a run began is shown while nothing
// else is: a long step that cannot tell how far it is. A nil Clock is none.
type Clock struct {
	mu     sync.Mutex
	w      io.Writer
	fd     uintptr
	last   time.Time // of what was written
	shown  bool
	ended  chan struct{}
	finish sync.Once
}

// Watch gives the terminal w a clock; nil where w is none.
func Watch(w io.Writer) *Clock {
	f, ok := w.(interface{ Fd() uintptr })
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return nil
	}
	c := &Clock{w: w, fd: f.Fd()}
	c.start(silence, tick)
	return c
}

func (c *Clock) start(silence, tick time.Duration) {
	began := time.Now()
	c.last, c.ended = began, make(chan struct{})
	go func() {
		t := time.NewTicker(tick)
		defer t.Stop()
		for {
			select {
			case <-c.ended:
				return
			case now := <-t.C:
				c.show(now, began, silence)
			}
		}
	}()
}

func (c *Clock) show(now, began time.Time, silence time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	select {
	case <-c.ended:
		return
	default:
	}
	if now.Sub(c.last) >= silence {
		fmt.Fprintf(c.w, "%sworking: %.0f s", clear, now.Sub(began).Seconds())
		c.shown = true
	}
}

// Write clears the clock's line before anything else is written.
func (c *Clock) Write(b []byte) (int, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.wipe()
	c.last = time.Now()
	return c.w.Write(b)
}

func (c *Clock) wipe() {
	if c.shown {
		io.WriteString(c.w, clear)
		c.shown = false
	}
}

// Fd lets the terminal behind it be asked for its width.
func (c *Clock) Fd() uintptr { return c.fd }

// Stop ends the clock: the answer comes, or the end.
func (c *Clock) Stop() {
	if c == nil {
		return
	}
	c.finish.Do(func() {
		c.mu.Lock()
		defer c.mu.Unlock()
		close(c.ended)
		c.wipe()
	})
}
