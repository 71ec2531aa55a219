// Command unseen tells how many tagged fish really passed a place, when only
// some of those that passed were detected there.
package main

import (
	"context"
	"os"
	_ "time/tzdata" // zones of a study, on machines without a zone database

	"example.org/unseen/cmd/unseen/internal/process"
)

func main() {
	ctx := process.UntilSignal(context.Background())
	os.Exit(run(ctx, os.Args, os.Stdin, os.Stdout, os.Stderr))
}
