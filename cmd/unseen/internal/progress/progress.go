// Package progress shows how far a long step has come: a bar on a terminal,
// nothing in a pipe.
package progress

import (
	"fmt"
	"io"
	"sync"
	"time"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"
)

// Bar is one step's progress. A nil Bar shows nothing.
type Bar struct {
	w     io.Writer
	label string
	unit  string
	start time.Time
	bar   *progressbar.ProgressBar
	drawn time.Time
}

// New starts a bar for a step, in words, that counts things of the given unit
// ("records", "replicates"). It returns nil unless w is a terminal.
func New(w io.Writer, label, unit string) *Bar {
	f, ok := w.(interface{ Fd() uintptr })
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return nil
	}
	return newBar(w, label, unit)
}

func newBar(w io.Writer, label, unit string) *Bar {
	return &Bar{w: w, label: label, unit: unit, start: time.Now()}
}

// Update says that done of total is over (in any unit) and count things were
// handled. It must not be called from two goroutines at once.
func (b *Bar) Update(done, total, count int64) {
	if b == nil || total <= 0 {
		return
	}
	if b.bar == nil {
		b.bar = progressbar.NewOptions64(total,
			progressbar.OptionSetWriter(b.w),
			progressbar.OptionSetWidth(24),
			progressbar.OptionSetPredictTime(true),
			progressbar.OptionClearOnFinish(),
			progressbar.OptionUseANSICodes(true))
	}
	now := time.Now()
	if now.Sub(b.drawn) < 100*time.Millisecond && done < total {
		return
	}
	b.drawn = now
	rate := float64(count) / max(now.Sub(b.start).Seconds(), 1e-3)
	b.bar.Set64(min(done, total))
	b.bar.Describe(fmt.Sprintf("%s: %s %s, %s/s", b.label, short(float64(count)), b.unit, short(rate)))
}

// Step says that n of so many steps are done.
func (b *Bar) Step(n, of int) { b.Update(int64(n), int64(of), int64(n)) }

// Counter moves the bar one step on at every call, from any goroutine.
func (b *Bar) Counter(of int) func() {
	var mu sync.Mutex
	var done int
	return func() {
		mu.Lock()
		defer mu.Unlock()
		done++
		b.Step(done, of)
	}
}

// Done clears the bar.
func (b *Bar) Done() {
	if b != nil && b.bar != nil {
		b.bar.Clear()
	}
}

func short(x float64) string {
	switch {
	case x >= 9.95e6:
		return fmt.Sprintf("%.0f M", x/1e6)
	case x >= 1e6:
		return fmt.Sprintf("%.1f M", x/1e6)
	case x >= 1e4:
		return fmt.Sprintf("%.0f k", x/1e3)
	default:
		return fmt.Sprintf("%.0f", x)
	}
}
