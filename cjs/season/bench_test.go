package season_test

import (
	"context"
	"testing"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/season"
)

// BenchmarkRunningSeason is the fit with times of 1,800 fish on day 20
// of the study.
func BenchmarkRunningSeason(b *testing.B) {
	h := spring().season(1, 1, 3600)
	at := start.AddDate(0, 0, 20)
	in := model.Input{Histories: season.Known(h, at), AsOf: at}
	for _, c := range []struct {
		name string
		opt  cjs.Options
	}{{"whole", cjs.Options{}}, {"estimates only", cjs.Options{EstimatesOnly: true}}} {
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				p, err := model.Build(in, model.Spec{})
				if err != nil {
					b.Fatal(err)
				}
				if _, err := cjs.New(context.Background(), p, c.opt); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
