package main

import (
	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/progress"
)

// askOthers adds to the fit what other optimisers say of it.
func askOthers(c *cli.Context, f *analysis.Fitted) error {
	bar := progress.New(c.App.ErrWriter, "asking other optimisers", "runs")
	defer bar.Done()
	return f.AskOthers(c.Context, func(n, of int) { bar.Update(int64(n), int64(of), int64(n)) })
}
