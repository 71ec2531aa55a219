package ingest_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/unseen/history"
	"example.org/unseen/history/ingest"
	"example.org/unseen/history/study"
)

const dipper = "../../testdata/published/lebreton1992/"

func load(t *testing.T, path string) *study.Study {
	t.Helper()
	s, err := study.Load(path)
	require.NoError(t, err)
	return s
}

// 294 birds, and 426 releases above the last year: Lebreton et al. 1992.
func TestDipperHistories(t *testing.T) {
	h, inputs, err := ingest.ReadHistories(load(t, dipper+"dipper.toml"))
	require.NoError(t, err)
	require.Equal(t, 294, h.Fish())
	require.Equal(t, "histories.csv", inputs[0].File)
	require.Len(t, inputs[0].SHA256, 64)
	sex := h.Column("sex")
	require.Equal(t, []string{"female", "male"}, sex.Levels)
	total := 0
	for _, n := range released(h, -1) {
		total += n
	}
	require.Equal(t, 426, total)
}

// nextSeen counts for each release site the fish next seen at each site, and
// released the releases, from histories of undivided sites; level is that of
// the first column, -1 for all.
func nextSeen(h *history.Histories, level int32) map[[2]int]int {
	out := map[[2]int]int{}
	each(h, level, func(from, to, n int) {
		if to > 0 {
			out[[2]int{from, to}] += n
		}
	})
	return out
}

func released(h *history.Histories, level int32) map[int]int {
	out := map[int]int{}
	each(h, level, func(from, to, n int) { out[from] += n })
	return out
}

// each gives every release above the last site, with the site of the next
// sighting or 0.
func each(h *history.Histories, level int32, f func(from, to, n int)) {
	last := len(h.River.Sites) - 1
	for i := range h.Len() {
		if level >= 0 && h.Columns[0].Level[i] != level {
			continue
		}
		from := int(h.Entry[i])
		for k := from + 1; k <= last; k++ {
			if h.Seen[i]&(1<<(k-1)) != 0 {
				f(from, k, h.Weight(i))
				from = k
			}
		}
		if from < last && h.End[i] == history.Open {
			f(from, 0, h.Weight(i))
		}
	}
}

// The dipper's histories and the next-seen tables made of them say the same.
func TestNextSeenAgreesWithHistories(t *testing.T) {
	full, _, err := ingest.ReadHistories(load(t, dipper+"dipper.toml"))
	require.NoError(t, err)
	pooled, _, err := ingest.ReadNextSeen(load(t, dipper+"dipper_next_seen.toml"))
	require.NoError(t, err)
	require.Equal(t, nextSeen(full, -1), nextSeen(pooled, -1))
	require.Equal(t, []string{"all"}, pooled.Cohorts)

	bySex, _, err := ingest.ReadNextSeen(load(t, dipper+"dipper_next_seen_by_sex.toml"))
	require.NoError(t, err)
	require.Equal(t, "sex", bySex.CohortColumn)
	require.Equal(t, []string{"female", "male"}, bySex.Cohorts)
	require.Equal(t, nextSeen(full, -1), nextSeen(bySex, -1))
}
