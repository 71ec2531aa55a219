// Report writes a page of Markdown on a study: the answer, what the data are, and
// what to be careful about.
package main

import (
	"context"
	"fmt"
	"io"
	"log"
	"os"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/history/ingest"
)

func main() {
	if len(os.Args) != 2 {
		log.Fatal("give the study file: go run ./docs/examples/report STUDY")
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
	f, err := d.Fit(ctx, spec, analysis.Options{})
	if err != nil {
		log.Fatal(err)
	}
	write(os.Stdout, f)
}

func write(w io.Writer, f *analysis.Fitted) {
	a := f.Accounting
	fmt.Fprintf(w, "# %s\n\n%d fish, %d sighting records read, %d of them kept.\n\n", f.Source().Name(), f.Histories.Fish(), a.Read, a.Kept)
	fmt.Fprintln(w, "| site | seen % | passed % | 95 % interval |\n| --- | --- | --- | --- |")
	for _, p := range f.Fit.Passed {
		if len(p.Of) == 0 { // of all fish
			e := p.PassedShare
			fmt.Fprintf(w, "| %s | %.1f | %.1f | %.1f to %.1f |\n", f.Histories.River.Sites[p.Site].Name, 100*p.SeenShare.Value, 100*e.Value, 100*e.Low, 100*e.High)
		}
	}
	fmt.Fprintf(w, "\nVerdict: %s.\n", f.Fit.Verdict)
	for _, warning := range f.Fit.Warnings {
		fmt.Fprintf(w, "\n- %s (%s)\n", warning.Message, warning.ID)
	}
}
