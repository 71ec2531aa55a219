package desk

import (
	"html"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/history/study"
)

// unwritten is a folder with the demo's tables, without a study.
func unwritten(t *testing.T) string {
	t.Helper()
	dir := hollin(t)
	require.NoError(t, os.Remove(filepath.Join(dir, "study.toml")))
	return dir
}

// said sends a form about a study that is not written yet.
func said(t *testing.T, d *Desk, pairs ...string) string {
	t.Helper()
	_, sum := d.sayings()
	form := url.Values{"back": {"/tables"}, "sum": {sum}}
	for i := 0; i+1 < len(pairs); i += 2 {
		form.Set(pairs[i], pairs[i+1])
	}
	return html.UnescapeString(post(t, d, "/edit", form))
}

// written is the study file that the page writes now.
func writtenStudy(t *testing.T, d *Desk, dir string) *study.Study {
	t.Helper()
	post(t, d, "/study", nil)
	st, err := study.Load(filepath.Join(dir, "study.toml"))
	require.NoError(t, err)
	return st
}

const upper, lower = "arrays/alder-ford.csv.gz", "arrays/lower-river.csv.gz"

// Each table is a card with what it was taken for, its records as written and as
// understood beside, before a study file is written.
func TestTablesAreCards(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	dir := unwritten(t)
	d := open(t, dir)
	page := html.UnescapeString(get(t, d, "/tables"))
	for _, must := range []string{
		"The tagged fish, tags in “", "Sightings, tags in “tag”, times in “time”", "sites in “site”", "in the zone UTC",
		"as written", "What it is", "This is right", "Column: time of day, where it stands apart", "Line with the names of the columns",
		"needs you: is this how 3 tables are to be read?", "The times have no offset", "Set it below",
	} {
		text := strings.ReplaceAll(page, "\u00a0", " ")
		assert.Contains(t, text, must)
	}
	// The raw record and what it is understood as, on one line.
	raw := strings.Split(plain(t, "arrays/lower-river.csv.gz"), "\n")[1]
	row := page[strings.Index(page, raw):]
	row = row[:strings.Index(row, "</tr>")]
	assert.Contains(t, row, "UTC")
	_, err := os.Stat(filepath.Join(dir, "study.toml"))
	assert.ErrorIs(t, err, os.ErrNotExist, "looking writes a study")
}

// What is said before the study is written goes into it, whatever comes of the
// page or the program meanwhile, and is taken back one by one.
func TestDraftIsKept(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	dir := unwritten(t)
	d := open(t, dir)
	assert.Contains(t, said(t, d, "do", "table", "table", "fish.csv", "column-cohort", "species", "column-tag", "tag"), "release group (cohort): species")
	page := said(t, d, "do", "settings", "time_zone", "Europe/Dublin")
	assert.Contains(t, page, "time_zone is Europe/Dublin")
	assert.NotContains(t, page, "The times have no offset", "what is answered is asked still")
	d.Close()
	d = open(t, dir) // as after a kill: all is on the disk
	assert.Contains(t, said(t, d, "do", "up:3"), "stands above")
	assert.Contains(t, said(t, d, "do", "right", "table", lower), "is understood rightly")
	page = html.UnescapeString(get(t, d, "/tables"))
	assert.Contains(t, page, "as you said")
	assert.Contains(t, page, "is this how 2 tables are")
	undo := func() string {
		_, sum := d.sayings()
		return html.UnescapeString(post(t, d, "/undo", url.Values{"back": {"/tables"}, "sum": {sum}}))
	}
	assert.Contains(t, undo(), "Taken back: "+lower)
	assert.Contains(t, undo(), "stands above")
	said(t, d, "do", "sites", "was-0", "Release site", "name-0", "Mill Lade", "was-1", "Alder Ford", "km-0", "58", "km-1", "36,6", "was-2", "Scar Weir", "km-2", "14.2", "was-3", "Tidehead", "km-3", "0")
	st := writtenStudy(t, d, dir)
	assert.Equal(t, "species", st.Fish.Cohort)
	assert.Equal(t, "Europe/Dublin", st.TimeZone)
	var names []string
	for _, s := range st.Sites {
		names = append(names, s.Name)
	}
	assert.Equal(t, []string{"Mill Lade", "Alder Ford", "Scar Weir", "Tidehead"}, names)
	assert.Equal(t, 36.6, st.Sites[1].Km)
	_, err := os.Stat(filepath.Join(dir, earlierFolder))
	assert.ErrorIs(t, err, os.ErrNotExist, "what was said is left beside the study")
	assert.Contains(t, get(t, d, "/answer"), "passed")
}

// What a table is can be said, and all that hangs on it is told anew.
func TestTableIsSaidToBeAnother(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	dir := unwritten(t)
	d := open(t, dir)
	page := said(t, d, "do", "table", "table", upper, "kind", "unused", "column-tag", "antenna")
	assert.Contains(t, page, upper+": not used")
	assert.Contains(t, page, "is this how 2 tables are")
	assert.NotContains(t, page, `value="Alder Ford" id="name-`)
	page = said(t, d, "do", "table", "table", upper, "kind", "sightings")
	assert.Contains(t, page, `value="Alder Ford" id="name-`)
	page = said(t, d, "do", "table", "table", upper, "column-site", "", "column-antenna", "", "site", "Upper Ford")
	assert.Contains(t, page, `value="Upper Ford" id="name-`)
	st := writtenStudy(t, d, dir)
	require.Len(t, st.Sightings, 2)
	assert.Equal(t, "Upper Ford", st.Sightings[0].Site)

	// With something said that makes no study the cards stay, and say it.
	dir = unwritten(t)
	d = open(t, dir)
	page = said(t, d, "do", "table", "table", "fish.csv", "kind", "unused")
	assert.Contains(t, page, "no table lists each tag once")
	assert.Contains(t, page, `id="table-0-kind"`)
	assert.NotContains(t, page, `id="right"`)
	assert.Contains(t, page, "needs you: the tables are no study yet")
}

// A form that is refused keeps what was typed.
func TestRefusedFormLosesNothing(t *testing.T) {
	d := open(t, hollin(t))
	page := edited(t, d, "do", "sites", "km-0", "58", "km-1", "thirty", "km-2", "14.2", "km-3", "0")
	assert.Contains(t, page, "it is a number")
	assert.Contains(t, page, `value="thirty" id="km-1"`)
	page = edited(t, d, "do", "settings", "title", "Another", "time_zone", "Nowhere/At all")
	assert.Contains(t, page, `value="Nowhere/At all"`)
	assert.Contains(t, page, `value="Another"`)
}

func TestDraftRefusesWhatIsNone(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	dir := unwritten(t)
	d := open(t, dir)
	for _, c := range []struct {
		says string
		form []string
	}{
		{"no table nowhere.csv", []string{"do", "table", "table", "nowhere.csv", "kind", "fish"}},
		{"nothing was changed", []string{"do", "table", "table", "fish.csv", "kind", "fish"}},
		{"it is a number, 0 where", []string{"do", "table", "table", "fish.csv", "header_line", "first"}},
		{"there are tag, released", []string{"do", "table", "table", "fish.csv", "column-cohort", "nowhere"}},
		{"cannot do", []string{"do", "magic"}},
		{"no such site", []string{"do", "up:0"}},
		{"time_zone", []string{"do", "settings", "time_zone", "Nowhere/At all"}},
		{"changed meanwhile", []string{"do", "table", "table", "fish.csv", "column-cohort", "", "sum", "another"}},
		{"km", []string{"do", "sites", "was-0", "Release site", "km-0", "58"}},
	} {
		page := said(t, d, c.form...)
		assert.Contains(t, page, `class="said fault"`, "%v", c.form)
		assert.Contains(t, page, c.says, "%v", c.form)
	}
	left, sum := d.sayings()
	assert.Empty(t, left)
	assert.Equal(t, sumOf(nil), sum)
	// Of what is said at the same time on the same state one is first.
	won := 0
	for range 3 {
		w := ask(d, http.MethodPost, "/edit", strings.NewReader(url.Values{"back": {"/tables"}, "sum": {sum}, "do": {"right"}, "table": {"fish.csv"}}.Encode()))
		if strings.Contains(get(t, d, w.Header().Get("Location")), "Done: ") {
			won++
		}
	}
	assert.Equal(t, 1, won)
}

// What was said of sites that are gone with their table is told, not lost in
// silence.
func TestDraftTellsWhatFitsNoMore(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	dir := unwritten(t)
	d := open(t, dir)
	said(t, d, "do", "move", "site", "Tidehead", "above", "Scar Weir")
	require.NoError(t, os.Remove(filepath.Join(dir, filepath.FromSlash(lower))))
	assert.Contains(t, html.UnescapeString(get(t, d, "/tables")), "Tidehead stands above Scar Weir, fits the tables no more")
}
