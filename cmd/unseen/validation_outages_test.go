package main

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/simulate"
)

// outageLines are the study of outages.
func outageLines(t *testing.T, b *strings.Builder) {
	var r struct {
		Seed, Fish int
		All        []struct {
			Design     string
			Replicates int
			Warned     map[string]int
			Passed     []simulate.Quantity
		}
	}
	fromJSON(t, "../../testdata/studies/season-outages.json", &r)
	require.NotEmpty(t, r.All)
	fmt.Fprintf(b, `
### Outages

%d fish released on 15 days; sites 40, 75 and 110 km below, to which they come on days 14, 20 and 25 on average; survival .85, detection .6, 80 test passes at the last site. Some row stands still as named, and the study says so with working windows. Shares of all fish that passed a site; intervals by profile likelihood where they have to do with the outage. Limits: intervals 93 %% at least − 2 Monte Carlo standard errors (90 %% where fish rest or have two speeds, which breaks the law of travel), |bias| below 0.1 SD + 3 standard errors but there (cjs/simulate TestOutageStudy). Seven designs have the 20 replicates there was time for. Of the design of the first site and the last 20 replicates covered 80 %% at Alder Ford, below the limit, and it was run on to 100. With two speeds what passed the last site comes out too high, and no warning says so. Two inner sites that fail at once were not run; their likelihood is held to plain recursion (testdata/outages). Seed %d.

| outage | replicates | site | truth %% | bias/SD | intervals %% | mean width |
| --- | --- | --- | --- | --- | --- | --- |
`, r.Fish, r.Seed)
	for _, q := range r.All {
		for _, p := range q.Passed {
			if p.Of != "" {
				continue
			}
			fmt.Fprintf(b, "| %s | %d | %s | %s | %s | %s | %s |\n", q.Design, q.Replicates, p.At, fixed(100*p.Truth, 1), fixed(p.Bias/math.Max(p.SD, 1e-9), 2),
				fixed(100*float64(p.Covered)/float64(q.Replicates), 1), fixed(100*p.Width, 1))
		}
	}
}
