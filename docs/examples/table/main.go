// Table fits a published next-seen table that is typed in by hand: of the marked
// European dippers released in each year, how many were next seen in each later
// one (Lebreton and others 1992).
package main

import (
	"context"
	"fmt"
	"log"
	"os"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/history/ingest"
)

func main() {
	ctx := context.Background()
	path := "testdata/published/lebreton1992/dipper_next_seen.toml"
	if len(os.Args) > 1 {
		path = os.Args[1]
	}
	d, err := analysis.Open(ctx, path, ingest.Options{})
	if err != nil {
		log.Fatal(err)
	}
	spec, err := d.Spec(analysis.Choice{Survival: "reach", Detection: "same"})
	if err != nil {
		log.Fatal(err)
	}
	f, err := d.Fit(ctx, spec, analysis.Options{})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("-2 ln L %.2f with %d parameters, %s\n", -2*f.Fit.LogLikelihood, f.Fit.Parameters, f.Fit.Verdict)
	for _, s := range f.Fit.Survival {
		fmt.Printf("%s to %s: %.3f (%.3f to %.3f)\n", d.Histories.River.Sites[s.From].Name, d.Histories.River.Sites[s.From+1].Name, s.Value, s.Low, s.High)
	}
}
