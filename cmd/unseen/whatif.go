package main

import (
	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/progress"
)

// askWhatIf adds to the fit what its answer hangs on.
func askWhatIf(c *cli.Context, f *analysis.Fitted) error {
	bar := progress.New(c.App.ErrWriter, "fitting again", "fits")
	defer bar.Done()
	return f.AskWhatIf(c.Context, func(n, of int) { bar.Update(int64(n), int64(of), int64(n)) })
}
