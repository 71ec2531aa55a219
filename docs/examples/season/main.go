// Season replays a season: what would have been said of the last site at the end
// of every tenth day, beside what it came to.
package main

import (
	"context"
	"fmt"
	"log"
	"os"
	"time"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/history/ingest"
)

func main() {
	if len(os.Args) != 2 {
		log.Fatal("give the study file: go run ./docs/examples/season STUDY")
	}
	ctx := context.Background()
	d, err := analysis.Open(ctx, os.Args[1], ingest.Options{})
	if err != nil {
		log.Fatal(err)
	}
	spec, err := d.Spec(analysis.Choice{})
	if err != nil {
		log.Fatal(err)
	}
	s, err := d.Season(ctx, spec, analysis.Options{}, d.ReplayDays(10), nil)
	if err != nil {
		log.Fatal(err)
	}
	last := len(d.Histories.River.Sites) - 1
	for _, day := range s.Days {
		if day.Err != nil {
			fmt.Printf("%s: %v\n", day.AsOf.Format(time.DateOnly), day.Err)
			continue
		}
		fmt.Printf("%s: %s, in the end %s\n", day.AsOf.Format(time.DateOnly), passed(day.Running, last), passed(day.Final, last))
	}
}

// passed is the share of all fish that passed a site.
func passed(f *cjs.Fit, site int) string {
	if f == nil {
		return "nothing"
	}
	for _, p := range f.Passed {
		if p.Site == site && len(p.Of) == 0 {
			e := p.PassedShare
			return fmt.Sprintf("%.1f %% (%.1f to %.1f)", 100*e.Value, 100*e.Low, 100*e.High)
		}
	}
	return "nothing"
}
