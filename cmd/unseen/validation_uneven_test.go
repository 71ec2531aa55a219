package main

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// unevenLines is the study of a season in which speeds differ between reaches.
func unevenLines(t *testing.T, b *strings.Builder) {
	type side struct {
		Mean, SD float64
		Covered  int
		Warned   int
	}
	var r struct {
		Seed int
		Fish int
		All  []struct {
			Design     string
			Day        int
			Truth      float64
			Replicates int
			ByReach    int  `json:"law_by_reach"`
			TooEarly   int  `json:"said_too_early"`
			Chosen     side `json:"chosen"`
			OneLaw     side `json:"one_law"`
		}
	}
	fromJSON(t, "../../testdata/studies/season-uneven.json", &r)
	require.NotEmpty(t, r.All)
	about := map[string]string{
		"equal":                  "4, 4, 4 · 8, 8, 8",
		"falling":                "6, 3.6, 2.4 · 8, 8, 8",
		"rising":                 "2.4, 3.6, 6 · 8, 8, 8",
		"equal-spreads-differ":   "4, 4, 4 · 5, 8, 11",
		"falling-spreads-differ": "6, 3.6, 2.4 · 11, 8, 5",
		"rising-spreads-differ":  "2.4, 3.6, 6 · 5, 8, 11",
	}
	fmt.Fprintf(b, `
### Speeds that differ

%d fish released on 10 days; sites 40, 75 and 110 km below; survival .85 in each reach, detection .6, 80 test passes at the last site. What will have passed the last site by the season's end, truth %.1f %%, with the laws of travel that the test chooses in each replicate, and with one law for all. *By reach* is how often the test chose a law for each reach, *warned* how often the fit with one law warned. Rules, for the laws chosen: intervals cover 93 to 97.5 %%, give or take two Monte Carlo standard errors, and |bias| is below 0.1 SD and three of them (cjs/season TestUnevenStudy). In a first run of 400 replicates of the first three designs and 100 of the others the intervals of the falling speeds covered 91.3 %%, those of the last design 90 %%: many were large-sample ones, too short on days when few fish tell slow from dead. Since then intervals are by profile likelihood where stretches have laws of their own and fish are still to come. Seed %d.

| km/day · km/√day by reach | day | replicates | by reach %% | said too early %% | mean %% | bias/SD | intervals %% | one law: mean %% | intervals %% | warned %% |
| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |
`, r.Fish, 100*r.All[0].Truth, r.Seed)
	for _, q := range r.All {
		require.Contains(t, about, q.Design)
		share := func(n int) string { return fixed(100*float64(n)/float64(q.Replicates), 1) }
		bias := (q.Chosen.Mean - q.Truth) / math.Max(q.Chosen.SD, 1e-9)
		fmt.Fprintf(b, "| %s | %d | %d | %s | %s | %s | %s | %s | %s | %s | %s |\n", about[q.Design], q.Day, q.Replicates, share(q.ByReach), share(q.TooEarly),
			fixed(100*q.Chosen.Mean, 1), fixed(bias, 2), share(q.Chosen.Covered), fixed(100*q.OneLaw.Mean, 1), share(q.OneLaw.Covered), share(q.OneLaw.Warned))
	}
}
