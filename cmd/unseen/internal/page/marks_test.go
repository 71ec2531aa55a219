package page

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/history/ingest"
)

// large writes a study of 20 cohorts and 12 sites, one of two rows, with times,
// and returns its path.
func large(t *testing.T) string {
	t.Helper()
	const sites, cohorts, each = 12, 20, 30
	dir := t.TempDir()
	random := rand.New(rand.NewPCG(20, 12))
	name := func(k int) string { return fmt.Sprintf("Site %d at the bridge", k+1) }
	var fish, seen, study strings.Builder
	fish.WriteString("tag,released,cohort,fork_length_mm\n")
	seen.WriteString("tag,site,antenna,time\n")
	day := time.Date(2025, 4, 1, 12, 0, 0, 0, time.UTC)
	for c := range cohorts {
		for i := range each {
			tag := fmt.Sprintf("9990000%08d", 1000*c+i)
			at := day.AddDate(0, 0, 3*c)
			fmt.Fprintf(&fish, "%s,%s,release %d,%d\n", tag, at.Format(time.RFC3339), c+1, 130+random.IntN(90))
			for k := 1; k < sites && random.Float64() < .93; k++ {
				at = at.Add(time.Duration(10+random.IntN(40)) * time.Hour)
				if random.Float64() < .6 {
					antenna := ""
					if k == 5 {
						antenna = []string{"up", "down"}[random.IntN(2)]
					}
					fmt.Fprintf(&seen, "%s,%s,%s,%s\n", tag, name(k), antenna, at.Format(time.RFC3339))
				}
			}
		}
	}
	study.WriteString("title = \"Twenty cohorts, twelve sites\"\nunits = { fork_length_mm = \"mm\" }\n[fish]\nfile = \"fish.csv\"\ncohort = \"cohort\"\n[sightings]\nfiles = [\"seen.csv\"]\n")
	for k := range sites {
		fmt.Fprintf(&study, "[[site]]\nname = %q\nkm = %v\n", name(k), 120-float64(k*(k+9))/2)
		if k == 5 {
			study.WriteString("rows = { upper = [\"up\"], lower = [\"down\"] }\n")
		}
	}
	study.WriteString("[[model]]\nname = \"cohorts alike\"\nsurvival = \"reach + cohort\"\ndetection = \"row\"\n[[model]]\nname = \"one survival\"\nsurvival = \"reach\"\ndetection = \"row\"\n")
	for file, text := range map[string]string{"fish.csv": fish.String(), "seen.csv": seen.String(), "study.toml": study.String()} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, file), []byte(text), 0o644))
	}
	return filepath.Join(dir, "study.toml")
}

// shared writes a study whose last detection is shared with the other sites,
// with a reach that all survive, a value taken as known, and a second place of
// release; and returns its path.
func shared(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "h.csv"), []byte("A,B,C,D,count\n"+
		"1,1,1,1,40\n1,1,1,0,12\n1,1,0,1,14\n1,0,1,1,11\n1,1,0,0,14\n1,0,0,1,5\n1,0,1,0,6\n1,0,0,0,18\n0,1,1,1,9\n0,1,1,0,5\n0,1,0,1,2\n0,1,0,0,4\n"), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "s.toml"), []byte("[histories]\nfile = \"h.csv\"\n"+
		"[[site]]\nname = \"A\"\n[[site]]\nname = \"B\"\n[[site]]\nname = \"C\"\n[[site]]\nname = \"D\"\n"+
		"[[hold]]\nreach = \"A to B\"\nsurvival = 0.9\n[[model]]\nname = \"shared\"\nsurvival = \"reach\"\ndetection = \"same\"\n"), 0o644))
	return filepath.Join(dir, "s.toml")
}

// marks are, by their keys, the numbers that the wide pictures of a figure, on
// whatever pages, show.
func marks(t *testing.T, doc *html.Node, id string) map[string]*html.Node {
	t.Helper()
	out := map[string]*html.Node{}
	for _, f := range all(doc, "figure") {
		if on, ok := strings.CutPrefix(attr(f, "id"), "figure-"+id); !ok || strings.Trim(on, "-0123456789") != "" {
			continue
		}
		for _, g := range all(all(f, "svg")[0], "g") {
			if key := attr(g, "data-of"); key != "" {
				require.Nil(t, out[key], "%s: %s is shown twice", id, key)
				out[key] = g
			}
		}
	}
	return out
}

// holds compares a mark with an estimate of the JSON, exactly.
func holds(t *testing.T, about string, mark *html.Node, e map[string]any, status any) {
	t.Helper()
	if !assert.NotNil(t, mark, "%s is not shown", about) {
		return
	}
	if status != nil {
		assert.Equal(t, status, attr(mark, "data-status"), about)
	}
	for name, key := range map[string]string{"data-value": "estimate", "data-low": "low", "data-high": "high"} {
		want := ""
		if e[key] != nil {
			want = strconv.FormatFloat(e[key].(float64), 'g', -1, 64)
		}
		assert.Equal(t, want, attr(mark, name), "%s, %s", about, key)
	}
}

// TestMarksShowTheJSON: every mark of the main figures carries the number and
// the status that the JSON has for it, none is left out, and none is shown that
// the JSON does not have; at any size of study.
func TestMarksShowTheJSON(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	studies := map[string]*Content{"shared": content(t, shared(t), analysis.Choice{}, ingest.Options{}), "large": content(t, large(t), analysis.Choice{}, ingest.Options{})}
	for name, c := range pages(t) {
		studies[name] = c
	}
	statuses := map[any]bool{}
	for name, c := range studies {
		fit := documents(t, c)["fit"].(map[string]any)
		doc := document(t, c)
		running := c.Fit.Problem.Running()
		whom := func(x map[string]any, names ...string) string {
			var out []string
			for _, n := range names {
				if v, ok := x["of"].(map[string]any)[n]; ok {
					out = append(out, v.(string))
				}
			}
			if len(out) == 0 {
				return "all fish"
			}
			return strings.Join(out, ", ")
		}
		passage, by := marks(t, doc, "passage"), marks(t, doc, "passed-by-cohort")
		n, nBy := 0, 0
		for _, x := range fit["passed"].([]any) {
			p := x.(map[string]any)
			e, site := p["passed_percent"].(map[string]any), p["site"].(string)
			sofar := e
			if running {
				sofar = p["passed_so_far_percent"].(map[string]any)
			}
			about := name + ", " + site
			if len(p["of"].(map[string]any)) == 0 {
				n++
				statuses[sofar["status"]] = true
				holds(t, about+" passed", passage["passed "+site], sofar, sofar["status"])
				holds(t, about+" seen", passage["seen "+site], p["seen_percent"].(map[string]any), nil)
				if running && e["low"] != nil {
					holds(t, about+" in the end", passage["passed in the end "+site], e, e["status"])
				}
			}
			if len(by) > 0 {
				nBy++
				holds(t, about+" by", by["passed "+site+" "+whom(p, "cohort")], sofar, sofar["status"])
			}
		}
		assert.Positive(t, n, name)
		assert.Len(t, by, nBy, "%s: the figure by cohort shows what the JSON does not have", name)

		survival, detection := marks(t, doc, "survival"), marks(t, doc, "detection")
		for _, x := range fit["survival"].([]any) {
			s := x.(map[string]any)
			statuses[s["status"]] = true
			holds(t, name, survival["survival "+s["from"].(string)+" to "+s["to"].(string)+" "+whom(s, "cohort")], s, s["status"])
		}
		assert.Len(t, survival, len(fit["survival"].([]any)), name)
		for _, x := range fit["detection"].([]any) {
			d := x.(map[string]any)
			row, _ := d["row"].(string)
			for i := range c.Histories.River.Sites {
				if s := &c.Histories.River.Sites[i]; s.Name == d["site"] && s.Divided() && row == "" {
					row = "whole site"
				}
			}
			statuses[d["status"]] = true
			holds(t, name, detection[strings.Join([]string{"detection", d["site"].(string), row, whom(d, "cohort")}, " ")], d, d["status"])
		}
		assert.Len(t, detection, len(fit["detection"].([]any)), name)
	}
	for _, want := range []string{"estimated", "borrowed", "held", "inseparable"} {
		assert.True(t, statuses[want], "no study of this test has the status %q", want)
	}
}

// TestFifthsShowTheJSON: the figure of fifths of a number shows every count of the
// JSON of assess with its range by chance, and says how many lie outside.
func TestFifthsShowTheJSON(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	c := pages(t)["demo"]
	list := documents(t, c)["assess"].(map[string]any)["covariates"].([]any)
	require.Len(t, list, 1)
	number := list[0].(map[string]any)
	name := number["name"].(string)
	page := written(t, c)
	shown := marks(t, document(t, c), "fifths-of-fork-length-mm")
	n, outside := 0, 0
	for i, x := range number["quintiles"].([]any) {
		for _, y := range x.(map[string]any)["sites"].([]any) {
			at := y.(map[string]any)
			n++
			if seen := at["seen"].(float64); seen < at["low"].(float64) || seen > at["high"].(float64) {
				outside++
			}
			about := fmt.Sprintf("fifth %d of %s at %s", i+1, name, at["site"])
			holds(t, about, shown[about], map[string]any{"estimate": at["seen"], "low": at["low"], "high": at["high"]}, nil)
		}
	}
	assert.Equal(t, 15, n, "five fifths at three sites")
	assert.Len(t, shown, n)
	assert.Contains(t, page, fmt.Sprintf("%d of 15 counts lie outside the range of chance", outside))
	for _, said := range []string{"Hollin Water sea trout smolts, spring 2025", "model survival: reach + cohort + fork_length_mm", "n\u00a0=\u00a01,800 fish"} {
		assert.Contains(t, page, said)
	}
}
