package page

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/base64"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/assess"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/travel"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/history/growth"
	"example.org/unseen/history/ingest"
)

const (
	demoStudy   = "../demo/files/study.toml"
	dipperStudy = "../../../../testdata/published/lebreton1992/dipper.toml"
)

// content is all that a report can show of a study.
func content(t *testing.T, path string, choice analysis.Choice, opt ingest.Options) *Content {
	t.Helper()
	ctx := context.Background()
	d, err := analysis.Open(ctx, path, opt)
	require.NoError(t, err)
	spec, err := d.Spec(choice)
	require.NoError(t, err)
	f, err := d.Fit(ctx, spec, analysis.Options{})
	require.NoError(t, err)
	c := &Content{Fitted: f, Version: "test", Command: "unseen report study.toml -o report.html",
		Assess: assess.OfModel(f.Fit.Problem), Covariates: assess.Covariates(f.Fit)}
	var specs []model.Spec
	for _, m := range d.Study.Models {
		specs = append(specs, model.SpecOf(m))
	}
	if len(specs) > 1 {
		c.Compare, err = d.Compare(ctx, specs, analysis.Options{}, nil)
		require.NoError(t, err)
	}
	if d.Histories.First != nil {
		c.Travel, err = f.Travel(ctx, travel.Options{})
		require.NoError(t, err)
		if !testing.Short() && path == demoStudy {
			c.Season, err = d.Season(ctx, model.Spec{}, analysis.Options{}, d.ReplayDays(20), nil)
			require.NoError(t, err)
		}
	}
	if d.Histories.Column(growth.Weight) != nil {
		c.Growth, err = growth.New(d.Histories, nil, growth.Options{})
		require.NoError(t, err)
	}
	return c
}

var contents = map[string]*Content{}

// pages are the reports of the demo, with a number in its model, of the same
// while its season runs, and of the dipper, which has products alone at its end.
func pages(t *testing.T) map[string]*Content {
	t.Helper()
	if len(contents) == 0 {
		contents["demo"] = content(t, demoStudy, analysis.Choice{Survival: "reach + cohort + fork_length_mm", Detection: "row"}, ingest.Options{})
		if !testing.Short() {
			contents["running"] = content(t, demoStudy, analysis.Choice{}, ingest.Options{AsOf: time.Date(2025, 4, 22, 23, 0, 0, 0, time.UTC)})
		}
		contents["dipper"] = content(t, dipperStudy, analysis.Choice{}, ingest.Options{})
	}
	return contents
}

var (
	texts = map[*Content]string{}
	trees = map[*Content]*html.Node{}
)

// written is the page of a content, written once.
func written(t *testing.T, c *Content) string {
	t.Helper()
	if texts[c] == "" {
		var b bytes.Buffer
		require.NoError(t, Write(&b, Assemble(c)))
		texts[c] = b.String()
	}
	return texts[c]
}

// document is the page of a content as a browser reads it, read once.
func document(t *testing.T, c *Content) *html.Node {
	t.Helper()
	if trees[c] == nil {
		doc, err := html.Parse(strings.NewReader(written(t, c)))
		require.NoError(t, err)
		trees[c] = doc
	}
	return trees[c]
}

// all gives the elements of the given names, in the order of the page.
func all(n *html.Node, names ...string) []*html.Node {
	var out []*html.Node
	for x := range n.Descendants() {
		if x.Type != html.ElementNode {
			continue
		}
		for _, name := range names {
			if x.Data == name {
				out = append(out, x)
			}
		}
	}
	return out
}

func attr(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}

func has(n *html.Node, name string) bool {
	for _, a := range n.Attr {
		if a.Key == name {
			return true
		}
	}
	return false
}

func words(n *html.Node) string {
	var b strings.Builder
	for x := range n.Descendants() {
		if x.Type == html.TextNode {
			b.WriteString(x.Data)
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

// TestTagsClose: the parser mends what is wrong; here nothing must need it.
func TestTagsClose(t *testing.T) {
	void := map[string]bool{"meta": true, "br": true, "img": true, "link": true, "hr": true, "input": true, "wbr": true}
	for name, c := range pages(t) {
		z := html.NewTokenizer(strings.NewReader(written(t, c)))
		var open []string
		for {
			kind := z.Next()
			if kind == html.ErrorToken {
				break
			}
			tag := z.Token()
			switch {
			case kind == html.StartTagToken && !void[tag.Data]:
				open = append(open, tag.Data)
				seen := map[string]bool{}
				for _, a := range tag.Attr {
					assert.False(t, seen[a.Key], "%s: %s has %s twice", name, tag.Data, a.Key)
					seen[a.Key] = true
				}
			case kind == html.EndTagToken:
				require.NotEmpty(t, open, name)
				require.Equal(t, open[len(open)-1], tag.Data, "%s: closed out of turn", name)
				open = open[:len(open)-1]
			}
		}
		assert.Empty(t, open, name)
	}
}

func TestLandmarksAndHeadings(t *testing.T) {
	for name, c := range pages(t) {
		page := written(t, c)
		doc := document(t, c)
		assert.True(t, strings.HasPrefix(page, "<!DOCTYPE html>"), name)
		assert.Equal(t, "en", attr(all(doc, "html")[0], "lang"), name)
		for _, landmark := range []string{"header", "main", "nav", "footer", "h1", "title"} {
			n := 0
			for _, x := range all(doc, landmark) {
				if x.Namespace == "" {
					n++
				}
			}
			assert.Equal(t, 1, n, "%s: %s", name, landmark)
		}
		assert.NotEmpty(t, attr(all(doc, "nav")[0], "aria-label"), name)
		level := 0
		for _, h := range all(doc, "h1", "h2", "h3", "h4") {
			l := int(h.Data[1] - '0')
			assert.LessOrEqual(t, l, level+1, "%s: %q skips a level", name, words(h))
			assert.NotEmpty(t, words(h), name)
			level = l
		}
		for _, s := range all(doc, "section") {
			assert.True(t, has(s, "aria-label") || has(s, "aria-labelledby"), name)
		}
		// The answer comes first.
		answer := all(all(doc, "main")[0], "section")[0]
		assert.Equal(t, "answer", attr(answer, "id"), name)
		assert.Contains(t, words(answer), view.Answer(c.Fitted)[0][:40], name)
		assert.Len(t, all(answer, "figure"), 1, name)
	}
}

func TestReferencesResolve(t *testing.T) {
	for name, c := range pages(t) {
		doc := document(t, c)
		ids := map[string]bool{}
		for n := range doc.Descendants() {
			if id := attr(n, "id"); id != "" {
				assert.False(t, ids[id], "%s: id %s stands twice", name, id)
				ids[id] = true
			}
		}
		links := 0
		for n := range doc.Descendants() {
			for _, a := range n.Attr {
				switch a.Key {
				case "href":
					links++
					require.True(t, strings.HasPrefix(a.Val, "#"), "%s: %s leaves the page", name, a.Val)
					assert.True(t, ids[a.Val[1:]], "%s: %s leads nowhere", name, a.Val)
				case "aria-labelledby", "aria-describedby":
					for _, id := range strings.Fields(a.Val) {
						assert.True(t, ids[id], "%s: %s names %s, which is not there", name, a.Key, id)
					}
				case "src", "srcset", "data", "action", "style":
					t.Errorf("%s: <%s %s> does not belong in the page", name, n.Data, a.Key)
				}
				assert.False(t, strings.HasPrefix(a.Key, "on"), "%s: %s", name, a.Key)
			}
		}
		assert.Greater(t, links, 5, name)
	}
}

// TestNothingIsFetched: the page's policy lets its own style and script run and
// nothing else; nothing in it asks for more.
func TestNothingIsFetched(t *testing.T) {
	for name, c := range pages(t) {
		doc := document(t, c)
		policy := ""
		for _, m := range all(doc, "meta") {
			if attr(m, "http-equiv") == "Content-Security-Policy" {
				policy = attr(m, "content")
			}
		}
		assert.Contains(t, policy, "default-src 'none'", name)
		for _, tag := range []string{"style", "script"} {
			x := all(doc, tag)
			require.Len(t, x, 1, "%s %s", name, tag)
			sum := sha256.Sum256([]byte(x[0].FirstChild.Data))
			assert.Contains(t, policy, tag+"-src 'sha256-"+base64.StdEncoding.EncodeToString(sum[:])+"'", "%s: its own %s is not let run", name, tag)
			assert.NotContains(t, x[0].FirstChild.Data, "url(", name)
			assert.NotContains(t, x[0].FirstChild.Data, "@import", name)
		}
		assert.Empty(t, all(doc, "link", "iframe", "object", "embed", "img", "base", "form"), name)
	}
}

func TestFiguresHaveAlternatives(t *testing.T) {
	for name, c := range pages(t) {
		doc := document(t, c)
		figures := all(doc, "figure")
		assert.Len(t, figures, len(c.Figures()), name)
		for _, f := range figures {
			pictures := all(f, "svg")
			assert.Len(t, pictures, 2, "%s: one for wide screens, one for narrow", name)
			for _, s := range pictures {
				assert.Equal(t, "img", attr(s, "role"), name)
				assert.NotEmpty(t, words(all(s, "title")[0]), name)
				assert.Greater(t, len(words(all(s, "desc")[0])), 60, name)
			}
			assert.NotEmpty(t, words(all(f, "figcaption")[0]), name)
			// The numbers stand in a table: behind the figure, or in its part.
			part := f.Parent
			for part.Data != "section" {
				part = part.Parent
			}
			if attr(part, "id") != "answer" {
				assert.NotEmpty(t, all(part, "table"), "%s: %s has no table", name, attr(f, "id"))
			}
		}
	}
}

// TestTablesAreWhole: every table has a caption, headers with a scope, and as
// many cells in each row as columns, spans counted.
func TestTablesAreWhole(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	for name, c := range pages(t) {
		doc := document(t, c)
		tables := all(doc, "table")
		assert.Greater(t, len(tables), 8, name)
		for _, x := range tables {
			caption := words(all(x, "caption")[0])
			assert.NotEmpty(t, caption, name)
			about := name + ", " + caption
			for _, h := range all(x, "th") {
				assert.Contains(t, []string{"col", "colgroup", "row", "rowgroup"}, attr(h, "scope"), about)
				assert.NotEmpty(t, words(h), "%s: a header is empty", about)
			}
			reach := map[int]int{} // column → rows that a cell above still covers
			width := -1
			for _, part := range all(x, "thead", "tbody") {
				clear(reach)
				for _, row := range all(part, "tr") {
					n := 0
					next := map[int]int{}
					cells := all(row, "th", "td")
					for len(cells) > 0 || reach[n] > 0 {
						if reach[n] > 0 {
							next[n] = reach[n] - 1
							n++
							continue
						}
						cols, rows := span(cells[0], "colspan"), span(cells[0], "rowspan")
						for range cols {
							next[n] = rows - 1
							n++
						}
						cells = cells[1:]
					}
					if width < 0 {
						width = n
					}
					assert.Equal(t, width, n, "%s: a row is not as wide as the others", about)
					if part.Data == "tbody" {
						assert.Equal(t, n, len(strings.Split(attr(row, "data-tsv"), "\t")), "%s: what is copied has other columns", about)
						// A single row may be of all there is.
						assert.True(t, len(all(part, "th")) > 0 || len(all(part, "tr")) == 1, "%s: no row has a header", about)
					}
					reach = next
				}
				for _, left := range reach {
					assert.Zero(t, left, "%s: a cell reaches below the table", about)
				}
			}
			assert.Equal(t, width, len(strings.Split(attr(x, "data-tsv"), "\t")), about)
		}
		for _, b := range all(doc, "button") {
			assert.NotEmpty(t, attr(b, "aria-label"), name)
			assert.True(t, has(b, "hidden"), "%s: a button that does nothing without a script is shown", name)
		}
	}
}

func span(n *html.Node, which string) int {
	s := attr(n, which)
	if s == "" {
		return 1
	}
	k, err := strconv.Atoi(s)
	if err != nil {
		return 1
	}
	return k
}

func TestSameInputSameBytes(t *testing.T) {
	one := written(t, pages(t)["dipper"])
	before := runtime.GOMAXPROCS(1)
	defer runtime.GOMAXPROCS(before)
	two := written(t, content(t, dipperStudy, analysis.Choice{}, ingest.Options{}))
	assert.True(t, one == two, "the page differs from run to run")
}

// TestNamesCannotBreakThePage: what the user's files say is text, never markup.
func TestNamesCannotBreakThePage(t *testing.T) {
	dir := t.TempDir()
	evil := `<script>alert(1)<script> & "x" 'y'`
	require.NoError(t, os.WriteFile(filepath.Join(dir, "h.csv"), []byte("top,mid,end\n1,1,1\n1,0,1\n1,1,0\n1,1,1\n1,0,0\n"), 0o644))
	quoted := strconv.Quote(evil)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "s.toml"), []byte(
		"title = "+quoted+"\n[histories]\nfile = \"h.csv\"\ncolumns = { "+quoted+" = \"top\" }\n[[site]]\nname = "+quoted+"\n[[site]]\nname = \"mid\"\n[[site]]\nname = \"end\"\n"), 0o644))
	c := content(t, filepath.Join(dir, "s.toml"), analysis.Choice{}, ingest.Options{})
	page := written(t, c)
	assert.NotContains(t, page, "<script>alert")
	doc := document(t, c)
	assert.Len(t, all(doc, "script"), 1)
	assert.Equal(t, evil, words(all(doc, "h1")[0]))
}

// TestPagesCiteWhatTheyUse: every year in the methods has a reference.
func TestPagesCiteWhatTheyUse(t *testing.T) {
	citation := regexp.MustCompile(`([A-Z][a-z]+)(?: et al\.| and [A-Z][a-z]+)? \(?(\d{4})`)
	for name, c := range pages(t) {
		b := c.methods()
		n := 0
		for _, m := range citation.FindAllStringSubmatch(b[0].Paragraphs[0], -1) {
			n++
			found := false
			for _, ref := range b[1].Notes {
				found = found || strings.HasPrefix(ref, m[1]+" ") && strings.Contains(ref, "("+m[2]+")")
			}
			assert.True(t, found, "%s: %s %s is cited and not listed", name, m[1], m[2])
		}
		assert.Greater(t, n, 5, name)
	}
}

// TestWarningsReachTheFirstPage: who reads only the first half page learns that
// there is something to heed, and of a fit that is not to be used.
func TestWarningsReachTheFirstPage(t *testing.T) {
	first := func(c *Content) string {
		return words(all(all(document(t, c), "main")[0], "section")[0])
	}
	c := pages(t)["dipper"]
	assert.NotEmpty(t, c.Fit.Warnings)
	for _, w := range c.Fit.Warnings {
		assert.Contains(t, first(c), w.ID)
	}
	assert.NotContains(t, first(c), "converge")
	failed := *c.Fit
	failed.Verdict = cjs.NotConverged
	broken := *c
	broken.Fitted = &analysis.Fitted{Data: c.Data, Fit: &failed, Effects: c.Effects}
	assert.Contains(t, first(&broken), "The fit did not converge: do not use these numbers.")
}

// TestMethodsTellWhatWasSupposed: values held, lost tags and fish taken out
// stand in the methods.
func TestMethodsTellWhatWasSupposed(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "h.csv"), []byte("A,B,C,removed\n1,1,1,\n1,0,1,\n1,1,0,B\n1,1,1,\n1,0,0,\n1,1,0,\n"), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "s.toml"), []byte(
		"[histories]\nfile = \"h.csv\"\n[[site]]\nname = \"A\"\n[[site]]\nname = \"B\"\n[[site]]\nname = \"C\"\n"+
			"[[hold]]\nreach = \"B to C\"\nsurvival = 0.9\n[retention]\nheld = 50\nkept = 49\n"), 0o644))
	said := content(t, filepath.Join(dir, "s.toml"), analysis.Choice{}, ingest.Options{}).methods()[0].Paragraphs[0]
	assert.Contains(t, said, "Taken as known, not estimated: survival B to C (0.900).")
	assert.Contains(t, said, "Tags were kept by 49 of 50 fish held")
	assert.Contains(t, said, "The history of a fish taken out at a site ends there by design.")
}

// TestMethodsTellOfOutages: test passes with their counts, and where rows did not
// always work, that times count and by which law.
func TestMethodsTellOfOutages(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, os.DirFS(filepath.Dir(demoStudy))))
	path := filepath.Join(dir, "study.toml")
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	said := func(study string) string {
		require.NoError(t, os.WriteFile(path, []byte(study), 0o644))
		c := content(t, path, analysis.Choice{Survival: "reach", Detection: "site"}, ingest.Options{})
		return c.methods()[0].Paragraphs[0]
	}
	whole := said(string(b))
	assert.Contains(t, whole, "at Tidehead) entered the likelihood as binomial counts.")
	assert.Contains(t, whole, "The model was survival by reach (logit link) and detection by site (logit link).")
	assert.NotContains(t, whole, "Where rows did not always work (")
	idle := said(strings.Replace(string(b), "name = \"Tidehead\"\n", "name = \"Tidehead\"\nworking = [[2025-03-01, 2025-05-01], [2025-05-05, 2025-08-01]]\n", 1))
	assert.Contains(t, idle, "detection by site (logit link), drift the same for all and spread the same for all.")
	assert.Contains(t, idle, "Where rows did not always work (declared under What data went in) the likelihood is that of the times of passage")
}
