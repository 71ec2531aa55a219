// Command unseen tells how many tagged fish really passed a place, when only
// some of those that passed were sighted there.
package main

import (
	"context"
	"os"
	"os/signal"
	_ "time/tzdata" // zones of a study, on machines without a zone database
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	os.Exit(run(ctx, os.Args, os.Stdin, os.Stdout, os.Stderr))
}
