package ingest

import (
	"math"

	"example.org/unseen/history"
)

type travel struct {
	r *run
	h *history.Histories
}

func (r *run) travel(h *history.Histories) *travel { return &travel{r, h} }

func (t *travel) outages() []finding    { return nil }
func (t *travel) clockJumps() []finding { return nil }
func (t *travel) workingShare() [][]float64 {
	out := make([][]float64, len(t.h.Cohorts))
	for i := range out {
		out[i] = make([]float64, len(t.h.River.Sites))
		for k := range out[i] {
			out[i][k] = 1
		}
		out[i][0] = math.NaN()
	}
	return out
}
