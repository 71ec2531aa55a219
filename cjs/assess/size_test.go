package assess_test

import (
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/assess"
)

var update = flag.Bool("update", false, "write the results of the studies (never published numbers)")

// The seeds are fixed before the first run; replicate i of design d draws from
// PCG(seed + d, i).
const seed = 20250418

const firstReplicates = 50

// replicates are those of a study: as many as there was time for where times have
// to be drawn.
func (d *design) replicates() int {
	if d.some > 0 {
		return d.some
	}
	return 10_000
}

// everySite: fish tagged at each of seven sites but the last.
var everySite = []int{300, 300, 300, 300, 300, 300}

// sizeDesigns hold the model. Enough: adequate counts, so that 4–6 % of p must
// fall below 0.05; else no more than that may.
var sizeDesigns = []struct {
	design
	Enough bool
}{
	{design{Name: "one release, 3 cohorts of 1,000", Fish: []int{1000}, Cohorts: 3, Sites: 7, Survival: 0.9, Detection: 0.6}, true},
	{design{Name: "300 tagged at each of 6 sites", Fish: everySite, Sites: 7, Survival: 0.7, Detection: 0.6}, true},
	{design{Name: "two rows, 2 cohorts of 1,500", Fish: []int{1500}, Cohorts: 2, Sites: 6, Survival: 0.85, Detection: 0.5, Rows: 2}, true},
	{design{Name: "one release of 2,000, a tenth taken out at site 2", Fish: []int{2000}, Sites: 6, Survival: 0.8, Detection: 0.5, Removed: 0.1}, true},
	{design{Name: "one release of 100", Fish: []int{100}, Sites: 6, Survival: 0.8, Detection: 0.5}, false},
	{design{Name: "10 cohorts of 40", Fish: []int{40}, Cohorts: 10, Sites: 6, Survival: 0.8, Detection: 0.5}, false},
	{design{Name: "15 tagged at each of 6 sites, detection 0.9", Fish: []int{15, 15, 15, 15, 15, 15}, Sites: 7, Survival: 0.6, Detection: 0.9}, false},
	{design{Name: "two rows, one release of 80", Fish: []int{80}, Sites: 5, Survival: 0.7, Detection: 0.7, Rows: 2}, false},
	{design{Name: "outages at sites 2 and 4, one release of 2,000", Fish: []int{2000}, Sites: 7, Survival: 0.9, Detection: 0.6, idle: two, some: 2_000}, true},
	{design{Name: "outages at sites 2 and 4, 300 tagged at each of 6 sites", Fish: everySite, Sites: 7, Survival: 0.7, Detection: 0.6, idle: two, some: 2_000}, true},
	{design{Name: "two rows, one of them out at site 2, both at site 3", Fish: []int{1500}, Sites: 6, Survival: 0.85, Detection: 0.5, Rows: 2, idle: rowsOut, some: 2_000}, true},
	{design{Name: "outages at sites 2 and 4, one release of 100", Fish: []int{100}, Sites: 7, Survival: 0.9, Detection: 0.6, idle: two, some: 2_000}, false},
}

// two are outages of five and six days at sites 2 and 4, to which fish come on days
// 17 and 27 on average; rowsOut those of one row of site 2 and of both of site 3.
var (
	two     = map[int][2]float64{1: {13, 18}, 3: {23, 29}}
	rowsOut = map[int][2]float64{2: {13, 18}, 4: {19, 23}, 5: {19, 23}}
)

// powerDesigns break the model in one way; right is the check made for it.
var powerDesigns = []struct {
	design
	Breaker, right string
}{
	{design{Name: "tagging death", Fish: everySite, Sites: 7, Survival: 0.7, Detection: 0.6, taggingDeath: 0.15}, "15 % of newly tagged fish die of it", assess.NewlySeenAgain},
	{design{Name: "shy at first", Fish: everySite, Sites: 7, Survival: 0.7, Detection: 0.6, shy: 0.2}, "newly tagged fish are detected a fifth less often at the first site they come to", assess.NewlyWhereNext},
	{design{Name: "late harm", Fish: []int{2000}, Sites: 7, Survival: 0.9, Detection: 0.6, lateHarm: 0.15}, "being seen at a site takes 15 % off survival in the reach after next", assess.EarlierSeenAgain},
	{design{Name: "two kinds of fish, detection and survival", Fish: []int{2000}, Sites: 7, Survival: 0.95, Detection: 0.4, otherKind: 0.5, kindDetection: 0.7, kindSurvival: 0.7}, "half of the fish have detection 0.4 and survival 0.95, half 0.7 and 0.7", assess.UnseenNextSeen},
	{design{Name: "detection differs", Fish: []int{2000}, Sites: 7, Survival: 0.9, Detection: 0.7, otherKind: 0.5, kindDetection: 0.4, kindSurvival: 0.9}, "half of the fish have detection 0.7, half 0.4", assess.EarlierSeenAgain},
	{design{Name: "memory", Fish: []int{2000}, Sites: 7, Survival: 0.9, Detection: 0.6, memory: 0.1}, "fish seen at one site are detected a tenth less often at the next", assess.UnseenNextSeen},
	{design{Name: "long memory", Fish: []int{2000}, Sites: 7, Survival: 0.9, Detection: 0.6, longMemory: 0.2, longBack: 0.25}, "fish seen at a site and missed at the next are detected a fifth less often at the one after, a quarter more often at the one after that", assess.UnseenWhereLater},
	{design{Name: "dependent rows", Fish: []int{1000}, Sites: 6, Survival: 0.85, Detection: 0.6, Rows: 2, shadow: 0.08}, "8 % of passages are out of reach of both rows", assess.RowsIndependent},
	{design{Name: "turns", Fish: []int{2000}, Sites: 7, Survival: 0.9, Detection: 0.6, turns: 0.12, turnsBack: 0.18}, "of fish seen at a site, those seen at the one above too are detected 12 % less often at the next, the others 18 % more", assess.EarlierWhereNext},
	{design{Name: "tagging death, outages", Fish: everySite, Sites: 7, Survival: 0.7, Detection: 0.6, taggingDeath: 0.15, idle: two, some: 1_000}, "with outages at sites 2 and 4: 15 % of newly tagged fish die of it", assess.NewlySeenAgain},
	{design{Name: "detection differs, outages", Fish: []int{2000}, Sites: 7, Survival: 0.9, Detection: 0.7, otherKind: 0.5, kindDetection: 0.4, kindSurvival: 0.9, idle: two, some: 1_000}, "with these outages: half of the fish have detection 0.7, half 0.4", assess.EarlierSeenAgain},
	{design{Name: "memory, outages", Fish: []int{2000}, Sites: 7, Survival: 0.9, Detection: 0.6, memory: 0.1, idle: two, some: 1_000}, "with these outages: fish seen at one site are detected a tenth less often at the next", assess.UnseenNextSeen},
	{design{Name: "dependent rows, outages", Fish: []int{1500}, Sites: 6, Survival: 0.85, Detection: 0.6, Rows: 2, shadow: 0.08, idle: rowsOut, some: 1_000}, "with outages of one row of site 2 and both of site 3: 8 % of passages are out of reach of both rows", assess.RowsIndependent},
}

// outcome counts, over replicates, p below 0.05 of the total and of each
// check, and where they were tested at all.
type outcome struct {
	Below  map[string]int `json:"below"`
	Tested map[string]int `json:"tested"`
}

type studyResult struct {
	Name       string  `json:"name"`
	Replicates int     `json:"replicates"`
	All        outcome `json:"all"`
	First      outcome `json:"first"`
}

const total = "total"

// run checks simulated studies from..to, the same whatever the number of cores.
func run(d *design, number, from, to int) outcome {
	out := outcome{map[string]int{}, map[string]int{}}
	var mu sync.Mutex
	var wait sync.WaitGroup
	const workers = 4
	for w := range workers {
		wait.Go(func() {
			own := outcome{map[string]int{}, map[string]int{}}
			for i := from + w; i < to; i += workers {
				h := d.simulate(rand.New(rand.NewPCG(seed+uint64(number), uint64(i))))
				r := d.check(h)
				own.add(total, r.Total.P)
				for _, c := range r.Components {
					own.add(c.ID, c.P)
				}
			}
			mu.Lock()
			defer mu.Unlock()
			for id, n := range own.Tested {
				out.Tested[id] += n
				out.Below[id] += own.Below[id]
			}
		})
	}
	wait.Wait()
	return out
}

func (o *outcome) add(id string, p float64) {
	if math.IsNaN(p) {
		return
	}
	o.Tested[id]++
	if p < assess.Level {
		o.Below[id]++
	}
}

// numbered is a design with its number, which is part of its seed.
type numbered struct {
	*design
	number int
}

func studies() []numbered {
	var out []numbered
	for i := range sizeDesigns {
		out = append(out, numbered{&sizeDesigns[i].design, i})
	}
	for i := range powerDesigns {
		out = append(out, numbered{&powerDesigns[i].design, 100 + i})
	}
	return out
}

const studiesFile = "testdata/studies.json"

func readStudies(t *testing.T) map[string]studyResult {
	t.Helper()
	data, err := os.ReadFile(studiesFile)
	require.NoError(t, err)
	var list []studyResult
	require.NoError(t, json.Unmarshal(data, &list))
	out := map[string]studyResult{}
	for _, r := range list {
		out[r.Name] = r
	}
	require.Len(t, out, len(studies()))
	return out
}

// TestStudiesAgain runs the first replicates of every study again: the
// committed results are those of this code.
func TestStudiesAgain(t *testing.T) {
	want := readStudies(t)
	for i, s := range studies() {
		if testing.Short() && i > 0 {
			break
		}
		require.Contains(t, want, s.Name)
		assert.Equal(t, want[s.Name].First, run(s.design, s.number, 0, firstReplicates), s.Name)
	}
}

// TestSizeAndPower holds the committed results to what is promised.
func TestSizeAndPower(t *testing.T) {
	results := readStudies(t)
	rate := func(name, id string) float64 {
		o := results[name].All
		return float64(o.Below[id]) / float64(results[name].Replicates)
	}
	for _, d := range sizeDesigns {
		n := d.replicates()
		require.Equal(t, n, results[d.Name].Replicates)
		// 6 %: never liberal, whatever the number of fish; of fewer studies three
		// standard errors.
		within := max(0.01, 3*math.Sqrt(0.05*0.95/float64(n)))
		for id := range results[d.Name].All.Tested {
			if d.Enough && id == total {
				assert.GreaterOrEqual(t, rate(d.Name, id), 0.05-within, "%s: %s", d.Name, id)
			}
			assert.LessOrEqual(t, rate(d.Name, id), 0.05+within, "%s: %s", d.Name, id)
		}
	}
	for _, d := range powerDesigns {
		for id := range results[d.Name].All.Tested {
			if id != d.right && id != total {
				assert.Greater(t, rate(d.Name, d.right), rate(d.Name, id), "%s: %s", d.Name, id)
			}
		}
		assert.Greater(t, rate(d.Name, d.right), 0.5, d.Name)
	}
}

// TestTablesAsTheyAreWouldReject: without allowance the checks find most studies
// with outages at fault though the model holds.
func TestTablesAsTheyAreWouldReject(t *testing.T) {
	rejected, n := 0, 20
	for _, d := range sizeDesigns {
		for i := 0; d.idle != nil && d.Rows == 2 && i < n; i++ {
			r, err := assess.Check(d.simulate(rand.New(rand.NewPCG(5, uint64(i)))), assess.Options{})
			require.NoError(t, err)
			if r.Total.P < assess.Level {
				rejected++
			}
		}
	}
	assert.Greater(t, rejected, n/2)
}

// TestDocumentShowsStudies: the tables of testdata/README.md are those of the
// committed results, and docs/checks.md gives their range.
func TestDocumentShowsStudies(t *testing.T) {
	const file = "testdata/README.md"
	results := readStudies(t)
	data, err := os.ReadFile(file)
	require.NoError(t, err)
	tables := string(data)
	for _, part := range []string{sizeTable(results), powerTable(results)} {
		if *update && !strings.Contains(tables, part) {
			head := part[:strings.Index(part, "\n")]
			from := strings.Index(tables, head)
			require.Positive(t, from, "the page has no table that begins %q", head)
			to := from + strings.Index(tables[from:], "\n\n") + 1
			tables = tables[:from] + part + tables[to:]
			require.NoError(t, os.WriteFile(file, []byte(tables), 0o644))
		}
		assert.Contains(t, tables, part)
	}
	data, err = os.ReadFile("../../docs/checks.md")
	require.NoError(t, err)
	doc := string(data)
	low, high := 100.0, 0.0
	for _, d := range powerDesigns {
		r := results[d.Name]
		rate := 100 * float64(r.All.Below[d.right]) / float64(r.Replicates)
		low, high = min(low, rate), max(high, rate)
	}
	assert.Contains(t, doc, fmt.Sprintf("the check made for it rejects in %.0f to %.0f %%", low, high))
	for _, id := range append(assess.CheckIDs(), assess.WarningIDs...) {
		assert.Contains(t, doc, "\n### "+id+"\n", "docs/checks.md has no heading for it")
	}
}

// short names of the checks as columns of the page's tables.
var columns = []struct{ id, title string }{
	{total, "all"},
	{assess.NewlySeenAgain, "newly tagged: again"}, {assess.NewlyWhereNext, "newly tagged: where"},
	{assess.EarlierSeenAgain, "earlier: again"}, {assess.EarlierWhereNext, "earlier: where"},
	{assess.UnseenNextSeen, "unseen: next"}, {assess.UnseenWhereLater, "unseen: later"}, {assess.RowsIndependent, "rows"},
}

func header(first string) string {
	s, under := "| "+first+" |", "| --- |"
	for _, c := range columns {
		s += " " + c.title + " |"
		under += " ---: |"
	}
	return s + "\n" + under + "\n"
}

func cells(r studyResult, right string) string {
	s := ""
	for _, c := range columns {
		cell := "–"
		if r.All.Tested[c.id] > 0 {
			cell = fmt.Sprintf("%.1f", 100*float64(r.All.Below[c.id])/float64(r.Replicates))
		}
		if c.id == right {
			cell = "**" + cell + "**"
		}
		s += " " + cell + " |"
	}
	return s
}

func sizeTable(results map[string]studyResult) string {
	s := header("the model holds")
	for _, d := range sizeDesigns {
		s += "| " + d.Name + " |" + cells(results[d.Name], "") + "\n"
	}
	return s
}

func powerTable(results map[string]studyResult) string {
	s := header("what breaks it")
	for _, d := range powerDesigns {
		s += "| " + d.Breaker + " |" + cells(results[d.Name], d.right) + "\n"
	}
	return s
}
