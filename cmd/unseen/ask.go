package main

import (
	"sync"

	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/progress"
)

// askMore asks of a fit what the line asks besides.
func askMore(c *cli.Context, f *analysis.Fitted) error {
	if c.String("interval") == "bootstrap" {
		if err := bootstrap(c, f); err != nil {
			return err
		}
	}
	if c.Bool("what-if") {
		bar := progress.New(c.App.ErrWriter, "fitting again", "fits")
		err := f.AskWhatIf(c.Context, stepped(bar))
		bar.Done()
		if err != nil {
			return err
		}
	}
	if c.Bool("second-opinion") {
		bar := progress.New(c.App.ErrWriter, "asking other optimisers", "runs")
		defer bar.Done()
		return f.AskOthers(c.Context, stepped(bar))
	}
	return nil
}

// stepped moves a bar to the n-th of so many steps.
func stepped(bar *progress.Bar) func(n, of int) {
	return func(n, of int) { bar.Update(int64(n), int64(of), int64(n)) }
}

// counting moves a bar one step on at every call, from any goroutine.
func counting(bar *progress.Bar, of int) func() {
	var mu sync.Mutex
	var done int64
	return func() {
		mu.Lock()
		defer mu.Unlock()
		done++
		bar.Update(done, int64(of), done)
	}
}
