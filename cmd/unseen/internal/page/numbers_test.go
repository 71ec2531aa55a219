package page

import (
	"encoding/json"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/cmd/unseen/internal/wire"
)

// documents are the JSON of the commands whose results the page shows, read
// back as any reader would.
func documents(t *testing.T, c *Content) map[string]any {
	t.Helper()
	out := map[string]any{}
	add := func(name string, doc any) {
		b, err := json.Marshal(doc)
		require.NoError(t, err)
		var v any
		require.NoError(t, json.Unmarshal(b, &v))
		out[name] = v
	}
	head := func(kind string) wire.Head { return wire.NewHead(kind, "test", c.Source()) }
	add("fit", wire.NewFit(head("fit"), c.Fitted))
	add("check", wire.NewCheck(head("check"), c.Data, nil))
	add("counts", wire.NewHistories(head("histories"), c.Data, wire.Counts))
	add("next", wire.NewHistories(head("histories"), c.Data, wire.NextSeens))
	add("assess", wire.NewAssess(head("assess"), c.Fitted, c.Assess, c.Covariates))
	if c.Compare != nil {
		for _, v := range c.Compare.Variants {
			// As of unseen fit --model NAME --json.
			add("fit "+v.Name(), wire.NewFit(head("fit"), &analysis.Fitted{Data: c.Data, Fit: v.Fit, Effects: c.Effects}))
		}
		add("compare", wire.NewCompare(head("compare"), c.Data, c.Compare, nil))
	}
	if c.Travel != nil {
		add("travel", wire.NewTravel(head("travel"), c.Data, c.Travel))
	}
	if c.Season != nil {
		add("season", wire.NewSeason(head("season"), c.Season))
	}
	if c.Growth != nil {
		add("growth", wire.NewGrowth(head("growth"), c.Data, c.Growth, c.Recaptures))
	}
	return out
}

// numbers are all numbers of a document.
func numbers(v any, out map[float64]bool) {
	switch x := v.(type) {
	case float64:
		out[x] = true
	case []any:
		for _, y := range x {
			numbers(y, out)
		}
	case map[string]any:
		for _, y := range x {
			numbers(y, out)
		}
	}
}

// drawn are tables whose numbers are made for a figure, from the times and the
// counts of the fish; the tests of figures hold them to their sums.
var drawn = []string{"figure-arrivals", "figure-arrivals-so-far", "figure-travel", "figure-flow", "figure-length-seen", "figure-detection-by-week"}

// TestEveryNumberIsTheJSONs reads the tables of the page and the JSON of the
// commands: each number of the one, in full precision, is in the other, and what
// is shown is that number, rounded.
func TestEveryNumberIsTheJSONs(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	for name, c := range pages(t) {
		known := map[float64]bool{}
		for _, doc := range documents(t, c) {
			numbers(doc, known)
		}
		// What the page works out itself: the length of a reach.
		for i := range len(c.Histories.River.Sites) - 1 {
			km := c.Histories.River.ReachKm(i)
			known[km], known[math.Round(km*1e6)/1e6] = true, true // shown without the rounding of the difference
		}
		for _, x := range c.Fit.Survival {
			for _, v := range []float64{x.Value, x.Low, x.High} {
				known[math.Pow(v, 100/c.Histories.River.ReachKm(x.From))] = true
			}
		}
		doc := document(t, c)
		looked := 0
		for _, x := range all(doc, "table") {
			caption := words(all(x, "caption")[0])
			if within(x, drawn) {
				continue
			}
			numeric := numericColumns(t, x)
			for _, row := range all(all(x, "tbody")[0], "tr") {
				full := strings.Split(attr(row, "data-tsv"), "\t")
				shown := cellsOf(row, len(full))
				for i, s := range full {
					if !numeric[i] {
						continue
					}
					if s == "" {
						assert.Contains(t, []string{"–", "", "early", "idle"}, shown[i], "%s, %s", name, caption)
						continue
					}
					v, err := strconv.ParseFloat(s, 64)
					require.NoError(t, err, "%s, %s", name, caption)
					looked++
					found := known[v]
					if strings.HasPrefix(caption, "Time at a site") {
						// Shown in minutes, days in the JSON: one multiplication.
						for k := range known {
							found = found || math.Abs(24*60*k-v) <= 1e-14*v
						}
					}
					assert.True(t, found, "%s, %s, %q: %s is nowhere in the JSON", name, caption, full[:i], s)
					assert.Equal(t, view.Digits(v, decimals(shown[i])), shown[i], "%s, %s: %s is shown otherwise", name, caption, s)
				}
			}
		}
		assert.Greater(t, looked, 100, "%s: the test looks at hardly anything", name)
	}
}

// within tells whether a node stands in an element with one of the ids.
func within(n *html.Node, ids []string) bool {
	for ; n != nil; n = n.Parent {
		if n.Type == html.ElementNode && slices.Contains(ids, attr(n, "id")) {
			return true
		}
	}
	return false
}

// numericColumns are those whose cells the page lays out as numbers.
func numericColumns(t *testing.T, table *html.Node) map[int]bool {
	t.Helper()
	out := map[int]bool{}
	heads := all(all(table, "thead")[0], "tr")
	at := 0
	for _, h := range all(heads[0], "th") {
		for range span(h, "colspan") {
			out[at] = !slices.Contains(strings.Fields(attr(h, "class")), "t")
			at++
		}
	}
	return out
}

// cellsOf gives a row's shown numbers by column: the row's last cells, since
// what reaches down from above stands at its beginning.
func cellsOf(row *html.Node, columns int) map[int]string {
	cells := all(row, "th", "td")
	out := map[int]string{}
	for i, cell := range slices.Backward(cells) {
		text := ""
		for n := range cell.ChildNodes() {
			if n.Type == html.TextNode {
				text += n.Data
			}
		}
		out[columns-len(cells)+i] = strings.ReplaceAll(strings.TrimSpace(text), "\u00a0", " ")
	}
	return out
}

func decimals(s string) int {
	_, frac, found := strings.Cut(s, ".")
	if !found {
		return 0
	}
	return len(frac)
}

// TestMainNumbersStandWhereTheyBelong finds every estimate of the JSON in the
// table and row of the page that names its fish and place.
func TestMainNumbersStandWhereTheyBelong(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	for name, c := range pages(t) {
		fit := documents(t, c)["fit"].(map[string]any)
		var part *html.Node
		for _, s := range all(document(t, c), "section") {
			if attr(s, "id") == "estimates" {
				part = s
			}
		}
		rows := map[string]string{}
		heading := ""
		for _, n := range all(part, "h3", "table") {
			if n.Data == "h3" {
				// While the season runs the date stands behind.
				heading, _, _ = strings.Cut(words(n), " · data through ")
				continue
			}
			for _, r := range all(all(n, "tbody")[0], "tr") {
				rows[heading+": "+attr(r, "data-tsv")] = heading
			}
		}
		find := func(heading string, keys []string, e map[string]any) {
			if e["estimate"] == nil {
				return
			}
			var s []string
			for _, k := range []string{"estimate", "low", "high"} {
				if e[k] == nil {
					s = append(s, "")
				} else {
					s = append(s, strconv.FormatFloat(e[k].(float64), 'g', -1, 64))
				}
			}
			want := strings.Join(s, "\t")
			for r, h := range rows {
				if h != heading || !strings.Contains(r+"\t", "\t"+want+"\t") {
					continue
				}
				ok := true
				for _, k := range keys {
					ok = ok && slices.Contains(strings.Split(strings.TrimPrefix(r, heading+": "), "\t"), k)
				}
				if ok {
					return
				}
			}
			t.Errorf("%s, %s: no row has %v with %s", name, heading, keys, want)
		}
		whom := func(x map[string]any) []string {
			var out []string
			for _, v := range x["of"].(map[string]any) {
				out = append(out, v.(string))
			}
			return out
		}
		n := 0
		for _, x := range fit["survival"].([]any) {
			s := x.(map[string]any)
			find("Survival by reach", append(whom(s), s["from"].(string)+" to "+s["to"].(string)), s)
			n++
		}
		for _, x := range fit["detection"].([]any) {
			d := x.(map[string]any)
			keys := append(whom(d), d["site"].(string))
			if r, ok := d["row"].(string); ok {
				keys = append(keys, r)
			}
			find("Detection", keys, d)
			n++
		}
		for _, x := range fit["passed"].([]any) {
			p := x.(map[string]any)
			keys := append(whom(p), p["site"].(string))
			find("Passed", keys, p["passed_percent"].(map[string]any))
			find("Passed", keys, p["passed_fish"].(map[string]any))
			n++
		}
		assert.Greater(t, n, 15, name)
	}
}

// TestWordsSayTheJSONsNumbers: every number with decimals in the answer and in
// what the figures say of themselves is one of the JSON's, rounded.
func TestWordsSayTheJSONsNumbers(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	number := regexp.MustCompile(`\d[\d,]*\.\d+`)
	for name, c := range pages(t) {
		known := map[float64]bool{}
		for _, doc := range documents(t, c) {
			numbers(doc, known)
		}
		// Survival per 100 km is worked out for its figure: the reach's, raised to
		// 100 over its km.
		for _, x := range c.Fit.Survival {
			known[math.Pow(x.Value, 100/c.Histories.River.ReachKm(x.From))] = true
		}
		rounded := map[int]map[string]bool{}
		for d := range 5 {
			rounded[d] = map[string]bool{}
			for v := range known {
				rounded[d][view.Digits(v, d)] = true
			}
		}
		first := c.Histories.River.Sites[0].Km
		for _, s := range c.Histories.River.Sites {
			rounded[1][view.Digits(math.Abs(s.Km-first), 1)] = true // "21.4 km down"
		}
		doc := document(t, c)
		n := 0
		check := func(where, text string) {
			for _, s := range number.FindAllString(text, -1) {
				n++
				assert.True(t, rounded[decimals(s)][s], "%s, %s: %s is nowhere in the JSON", name, where, s)
			}
		}
		for _, p := range all(doc, "p") {
			if attr(p, "class") == "answer" {
				check("answer", words(p))
			}
		}
		for _, f := range all(doc, "figure") {
			id := attr(f, "id")
			if !slices.Contains(drawn, id) {
				for _, d := range all(f, "desc") {
					check(id, words(d))
				}
			}
			if id == "figure-passage" || id == "figure-survival" || id == "figure-detection" {
				for _, x := range all(f, "text") {
					if !isTick(words(x)) {
						check(id, words(x))
					}
				}
			}
		}
		assert.Greater(t, n, 30, name)
	}
}

// isTick tells the labels of an axis of shares.
func isTick(s string) bool {
	return slices.Contains([]string{"0.0", "0.2", "0.4", "0.6", "0.8", "1.0"}, s)
}
