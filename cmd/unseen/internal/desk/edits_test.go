package desk

import (
	"fmt"
	"html"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/history"
)

func studyText(t *testing.T, dir string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(dir, "study.toml"))
	require.NoError(t, err)
	return string(text)
}

// edited sends a form of the page, made on the study as it stands.
func edited(t *testing.T, d *Desk, pairs ...string) string {
	t.Helper()
	form := url.Values{"back": {"/tables"}, "sum": {d.current().Sum}}
	for i := 0; i+1 < len(pairs); i += 2 {
		form.Set(pairs[i], pairs[i+1])
	}
	return post(t, d, "/edit", form)
}

func undone(t *testing.T, d *Desk) string {
	t.Helper()
	return post(t, d, "/undo", url.Values{"back": {"/tables"}, "sum": {d.current().Sum}})
}

func TestEveryEditIsUndone(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	for _, c := range []struct {
		name string
		form []string
		line string // that the study then has
	}{
		{"km", []string{"do", "sites", "km-0", "58", "km-1", "37,5", "km-2", "14.2", "km-3", "0"}, "km   = 37.5"},
		{"name", []string{"do", "sites", "name-0", "Mill Trap", "km-0", "58", "km-1", "36.6", "km-2", "14.2", "km-3", "0"}, `name = "Mill Trap"`},
		{"zone", []string{"do", "settings", "title", "Hollin Water sea trout smolts, spring 2025", "time_zone", "Etc/GMT-1"}, `time_zone = "Etc/GMT-1"              # the arrays write local time without an offset`},
		{"column", []string{"do", "table", "table", "fish.csv", "column-cohort", "cohort", "column-site", "species"}, `site = "species"`},
		{"model", []string{"do", "keep-model", "name", "plain", "survival", "reach", "detection", "site"}, `name = "plain"`},
		{"test tag", []string{"do", "remedy", "kind", "test tag", "tag", "999097290475948"}, `test_tags = ["999000000000001", "999097290475948"]          # the daily self-test of the Tidehead reader`},
		{"clock", []string{"do", "remedy", "kind", "clock", "place", "Scar Weir", "seconds", "-3600", "from", "2025-04-20"}, `clock = [{ from = 2025-04-20, seconds = -3600 }]`},
		{"working", []string{"do", "remedy", "kind", "working", "place", "Scar Weir", "from", "2025-03-20", "to", "2025-05-14 09:00"}, `working = [[2025-03-20, 2025-05-14T09:00:00]]`},
		{"rule off", []string{"do", "remedy", "kind", "off", "rule", "turned_back"}, `off       = ["turned_back"]`},
		{"running", []string{"do", "remedy", "kind", "running", "day", "2025-05-10"}, `as_of     = 2025-05-10`},
		{"alias", []string{"do", "remedy", "kind", "alias", "place", "Tidehead", "name", "Tide Head"}, `aliases = ["Tide Head"]`},
		{"date order", []string{"do", "remedy", "kind", "date order", "order", "day first"}, `date_order = "day first"`},
	} {
		dir := hollin(t)
		before := studyText(t, dir)
		d := open(t, dir)
		page := edited(t, d, c.form...)
		after := studyText(t, dir)
		require.Contains(t, page, "Done: ", "%s", c.name)
		assert.True(t, strings.Contains(after, c.line), "%s: %v", c.name, written(before, after))
		assert.NotContains(t, before, c.line, c.name)
		assert.Contains(t, after, "# sites stand in downstream order", "%s: comments are lost", c.name)
		if c.name == "column" { // a wrong one: the page says so, and undo is there
			assert.Contains(t, get(t, d, "/tables"), "The study cannot be read")
		} else {
			assert.NotNil(t, d.current().Data, "%s: %v", c.name, d.current().Err)
		}
		assert.Contains(t, undone(t, d), "Taken back: ", c.name)
		assert.Equal(t, before, studyText(t, dir), c.name)
		assert.Contains(t, undone(t, d), "nothing to take back", c.name)
		assert.Equal(t, before, studyText(t, dir), c.name)
	}
}

func TestEditsThatMakeNoStudyAreRefused(t *testing.T) {
	dir := hollin(t)
	before := studyText(t, dir)
	d := open(t, dir)
	for _, c := range []struct {
		says string
		form []string
	}{
		{"is a number", []string{"do", "sites", "km-0", "far"}},
		{"km", []string{"do", "sites", "km-0", "58", "km-1", "", "km-2", "14.2", "km-3", "0"}}, // at some alone
		{"they say the order", []string{"do", "up:2"}},
		{"no such site", []string{"do", "down:3"}},
		{"no such site", []string{"do", "up:0"}},
		{"no such site", []string{"do", "up:x"}},
		{"time_zone", []string{"do", "settings", "title", "x", "time_zone", "Nowhere/At all"}},
		{"no such table", []string{"do", "table", "table", "nowhere.csv"}},
		{"nothing was changed", []string{"do", "table", "table", "fish.csv", "column-cohort", "cohort"}},
		{"a model called", []string{"do", "keep-model", "name", "each cohort its own"}},
		{"needs a name", []string{"do", "keep-model", "name", " "}},
		{"no site", []string{"do", "remedy", "kind", "clock", "place", "Nowhere", "seconds", "1"}},
		{"number of seconds", []string{"do", "remedy", "kind", "clock", "place", "Scar Weir", "seconds", "an hour"}},
		{"is no time", []string{"do", "remedy", "kind", "over", "day", "May"}},
		{"no remedy", []string{"do", "remedy", "kind", "magic"}},
		{"cannot do", []string{"do", "magic"}},
		{"changed meanwhile", []string{"do", "remedy", "kind", "tag form", "sum", "of another text"}},
	} {
		page := edited(t, d, c.form...)
		assert.Contains(t, page, `class="said fault"`, "%v", c.form)
		assert.Contains(t, page, c.says, "%v", c.form)
		require.Equal(t, before, studyText(t, dir), "%v", c.form)
	}
	_, err := os.Stat(filepath.Join(dir, earlierFolder))
	assert.ErrorIs(t, err, os.ErrNotExist, "an edit that was refused left an earlier version")
}

func TestSitesChangePlaces(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	dir := hollin(t)
	path := filepath.Join(dir, "study.toml")
	text := regexp.MustCompile(`(?m)^km .*\n`).ReplaceAllString(studyText(t, dir), "")
	require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	d := open(t, dir)
	assert.Contains(t, edited(t, d, "do", "up:3"), "Tidehead stands above Scar Weir")
	var names []string
	for _, s := range d.current().Study.Sites {
		names = append(names, s.Name)
	}
	assert.Equal(t, []string{"Mill Lade", "Alder Ford", "Tidehead", "Scar Weir"}, names)
	assert.Contains(t, studyText(t, dir), "# a tag on a float, drifted over the array")
	edited(t, d, "do", "down:2")
	assert.Equal(t, strings.Join(strings.Fields(text), " "), strings.Join(strings.Fields(studyText(t, dir)), " "))
}

func TestUndoDoesNotTakeBackWhatOthersDid(t *testing.T) {
	dir := hollin(t)
	d := open(t, dir)
	edited(t, d, "do", "remedy", "kind", "off", "rule", "turned_back")
	path := filepath.Join(dir, "study.toml")
	byHand := studyText(t, dir) + "\n# mine\n"
	require.NoError(t, os.WriteFile(path, []byte(byHand), 0o644))
	assert.NotContains(t, get(t, d, "/tables"), ">Undo<")
	assert.Contains(t, undone(t, d), "nothing to take back")
	assert.Equal(t, byHand, studyText(t, dir))
	// A version of which the edit never came, as a kill leaves it.
	require.NoError(t, d.keep("study.toml", "never done", []byte("never"), "of no text"))
	edited(t, d, "do", "remedy", "kind", "date order", "order", "day first")
	undone(t, d)
	assert.Equal(t, byHand, studyText(t, dir))
}

func TestAtMostFiftyVersionsAreKept(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	dir := hollin(t)
	d := open(t, dir)
	first := studyText(t, dir)
	for i := range mostEarlier + 5 {
		x, err := settingsChanged(d.current().Study, url.Values{"title": {fmt.Sprint("title ", i)}})
		require.NoError(t, err)
		require.NoError(t, d.rewrite(sumOf([]byte(studyText(t, dir))), x.what, x.make))
	}
	have, err := d.versions("study.toml")
	require.NoError(t, err)
	assert.Len(t, have, mostEarlier)
	for range mostEarlier {
		form := url.Values{"sum": {sumOf([]byte(studyText(t, dir)))}}
		require.Equal(t, http.StatusSeeOther, ask(d, http.MethodPost, "/undo", strings.NewReader(form.Encode())).Code)
	}
	assert.Contains(t, undone(t, d), "nothing to take back")
	assert.Equal(t, strings.Replace(first, "Hollin Water sea trout smolts, spring 2025", "title 4", 1), studyText(t, dir))
	assert.NotNil(t, d.current().Data, "the earlier versions are taken for data")
}

// Of several writers who looked at the same text one is first; the others are
// told, and nothing is lost.
func TestTwoWriters(t *testing.T) {
	dir := hollin(t)
	desks := []*Desk{open(t, dir), open(t, dir)}
	sum := desks[0].current().Sum
	var wg sync.WaitGroup
	said := make([]string, 10)
	for i := range said {
		wg.Go(func() {
			d := desks[i%2]
			w := ask(d, http.MethodPost, "/edit", strings.NewReader(url.Values{"back": {"/tables"}, "sum": {sum},
				"do": {"remedy"}, "kind": {"test tag"}, "tag": {fmt.Sprint("99904100000100", i)}}.Encode()))
			said[i] = ask(d, http.MethodGet, w.Header().Get("Location"), nil).Body.String()
		})
	}
	wg.Wait()
	won := 0
	for _, s := range said {
		if strings.Contains(s, "Done: ") {
			won++
		} else {
			assert.Contains(t, s, "changed meanwhile")
		}
	}
	assert.Equal(t, 1, won)
	assert.Equal(t, 1, strings.Count(studyText(t, dir), "99904100000100"))
	for _, d := range desks {
		assert.NotNil(t, d.current().Data)
	}
}

// A site that is misspelt in the tables is told, and listed as an alias of the one
// that is meant: the line is shown, and what it does to passed %.
func TestMisspeltSiteIsAnAlias(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	dir := hollin(t)
	// Of a fish that was taken out at a site a sighting there is asked for.
	fish, err := os.ReadFile(filepath.Join(dir, "fish.csv"))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "fish.csv"), []byte(strings.ReplaceAll(string(fish), ",Scar Weir\n", ",\n")), 0o644))
	sentence := func(d *Desk) string {
		return regexp.MustCompile(`id="sentence"[^>]*>(.*?)</p>`).FindString(get(t, d, "/answer"))
	}
	want := sentence(open(t, dir))
	require.NotEmpty(t, want)
	path := filepath.Join(dir, "arrays", "wier.csv")
	require.NoError(t, os.WriteFile(path, []byte(strings.ReplaceAll(plain(t, "arrays/lower-river.csv.gz"), "Scar Weir", "Scar Wier")), 0o644))
	require.NoError(t, os.Remove(filepath.Join(dir, "arrays", "lower-river.csv.gz")))
	study := strings.Replace(studyText(t, dir), `"arrays/*.csv.gz"`, `"arrays"`, 1)
	require.NotEqual(t, studyText(t, dir), study)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "study.toml"), []byte(study), 0o644))
	d := open(t, dir)
	require.NoError(t, d.current().Err)
	assert.NotEqual(t, want, sentence(d))
	i := slices.IndexFunc(d.current().Data.Findings, func(f history.Finding) bool { return f.ID == "unknown_site" })
	require.GreaterOrEqual(t, i, 0)
	about := "&about=" + url.QueryEscape(d.current().Data.Findings[i].About)
	assert.Contains(t, get(t, d, "/check"), "/check?about=")
	page := html.UnescapeString(get(t, d, "/check?remedy=unknown_site"+about))
	assert.Contains(t, page, "“Scar Wier” is another spelling of a site")
	assert.Contains(t, page, "<option selected>Scar Weir</option>")
	page = strings.ReplaceAll(html.UnescapeString(get(t, d, "/check?remedy=unknown_site&kind=alias&place=Scar+Weir"+about)), "\u00a0", " ")
	assert.Contains(t, page, `aliases = ["Scar Wier"]`)
	says := regexp.MustCompile(`Passed Scar Weir: (\S+) → ([0-9.]+) %`).FindStringSubmatch(page)
	require.NotNil(t, says, page)
	edited(t, d, "do", "remedy", "kind", "alias", "place", "Scar Weir", "name", "Scar Wier")
	assert.Contains(t, studyText(t, dir), `aliases = ["Scar Wier"]`)
	assert.NotContains(t, html.UnescapeString(get(t, d, "/check")), `"Scar Wier" (`)
	assert.Contains(t, get(t, d, "/answer"), says[2])
	assert.Equal(t, want, sentence(d))
}

// What a remedy is said to do is what it then does.
func TestRemedyDoesWhatItSays(t *testing.T) {
	dir := hollin(t)
	d := open(t, dir)
	page := get(t, d, "/check?remedy=turned_back")
	says := regexp.MustCompile(`Passed Alder Ford: 71\.6 → ([0-9.]+) %`).FindStringSubmatch(strings.ReplaceAll(html.UnescapeString(page), "\u00a0", " "))
	require.NotNil(t, says, page)
	require.NotEqual(t, "71.6", says[1])
	assert.Contains(t, html.UnescapeString(page), `off       = ["turned_back"]`)
	assert.NotContains(t, studyText(t, dir), "turned_back", "looking at it did it")
	edited(t, d, "do", "remedy", "kind", "off", "rule", "turned_back")
	assert.Contains(t, get(t, d, "/answer"), says[1])
	assert.NotContains(t, get(t, d, "/check"), "[turned_back]")
}

func TestRemediesNameWhatTheyWrite(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	d := open(t, hollin(t))
	for path, line := range map[string]string{
		"/check?remedy=unknown_tag": `test_tags = [`,
		"/check?remedy=before_release&kind=clock&place=Scar+Weir&seconds=-3600&from=2025-04-20": "clock = [{ from = 2025-04-20, seconds = -3600 }]",
	} {
		about := ""
		for _, f := range d.current().Data.Findings {
			if strings.Contains(path, "="+f.ID) {
				about = f.About
			}
		}
		page := html.UnescapeString(get(t, d, path+"&about="+url.QueryEscape(about)))
		assert.Contains(t, page, line, path)
		assert.Contains(t, page, "Do this", path)
	}
	assert.Contains(t, get(t, d, "/check?remedy=gone"), "no longer there")
	// One with which the study cannot be read is not offered.
	page := get(t, d, "/check?remedy=bad_tag")
	assert.Contains(t, page, "the study could not be read")
	assert.NotContains(t, page, "Do this")
}
