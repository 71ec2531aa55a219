package main

import (
	"github.com/urfave/cli/v2"

	"example.org/unseen/cmd/unseen/internal/progress"
	"example.org/unseen/cmd/unseen/internal/session"
)

// askWhatIf adds to the fit what its answer hangs on.
func askWhatIf(c *cli.Context, f *session.Fitted) error {
	bar := progress.New(c.App.ErrWriter, "fitting again", "fits")
	defer bar.Done()
	return f.AskWhatIf(c.Context, func(n, of int) { bar.Update(int64(n), int64(of), int64(n)) })
}
