package desk

import (
	"fmt"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// startedAndStopped begins a bootstrap of so many replicates, or another work, and
// stops it after some.
func startedAndStopped(t *testing.T, d *Desk, n string, after int, kind ...string) {
	t.Helper()
	w := ask(d, http.MethodPost, "/job", strings.NewReader(url.Values{"back": {"/trust"}, "kind": append(kind, "bootstrap"), "replicates": {n}}.Encode()))
	require.Equal(t, http.StatusSeeOther, w.Code)
	require.Eventually(t, func() bool { s := d.jobs.state(); return s.Done >= after || s.Ended }, time.Minute, time.Millisecond)
	ask(d, http.MethodPost, "/job/stop", strings.NewReader("back=/trust"))
	require.Eventually(t, func() bool { return d.jobs.state().Ended }, time.Minute, time.Millisecond)
}

func keptFiles(t *testing.T, dir string) []string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(dir, earlierFolder, replicatesMark+"*"))
	require.NoError(t, err)
	return files
}

// Replicates outlive the page: another program finds them, goes on from them, and
// comes to what one run comes to. Other data or another model do not.
func TestReplicatesAreKept(t *testing.T) {
	dir := hollin(t)
	d := open(t, dir)
	startedAndStopped(t, d, "30", 4)
	made := d.jobs.state().Done
	require.Len(t, keptFiles(t, dir), 1)
	s := d.current()
	set := d.replicatesBefore(s, s.Data.Specs()[0])
	require.NotNil(t, set)
	assert.GreaterOrEqual(t, len(set.Replicates), 4)
	d.Close()

	d = open(t, dir)
	assert.Contains(t, get(t, d, "/trust"), "were made before; Start goes on from them.")
	assert.NotContains(t, get(t, d, "/trust?survival=reach&detection=site"), "were made before")
	startedAndStopped(t, d, "30", 30)
	assert.Equal(t, 30, d.jobs.state().Done)
	page := get(t, d, "/trust")
	together := page[strings.Index(page, "with intervals by these replicates"):]
	together = together[:strings.Index(together, "</section>")]
	t.Log("of 30 replicates made first:", made)

	other := hollin(t)
	e := open(t, other)
	startedAndStopped(t, e, "30", 30)
	page = get(t, e, "/trust")
	once := page[strings.Index(page, "with intervals by these replicates"):]
	once = once[:strings.Index(once, "</section>")]
	assert.Equal(t, once, together, "what was made in two runs is not what one makes")

	// With other data they are of no use, and what is no file of them is no harm.
	edited(t, d, "do", "remedy", "kind", "off", "rule", "turned_back")
	assert.NotContains(t, get(t, d, "/trust"), "were made before")
	for _, f := range keptFiles(t, other) {
		require.NoError(t, os.WriteFile(f, []byte("nothing"), 0o644))
	}
	e.Close()
	e = open(t, other)
	assert.NotContains(t, get(t, e, "/trust"), "were made before")
	startedAndStopped(t, e, "5", 5)
	assert.Equal(t, 5, e.jobs.state().Done)
}

// So do made-up seasons: what one page made before it was closed, another goes on
// from, and comes to what one run comes to.
func TestMadeUpSeasonsAreKept(t *testing.T) {
	dir := hollin(t)
	d := open(t, dir)
	startedAndStopped(t, d, "100000", 2, "simulation")
	s := d.current()
	made := d.seasonsBefore(s, s.Data.Specs()[0]).Replicates
	require.GreaterOrEqual(t, made, 2)
	require.Less(t, made, 100_000)
	all := fmt.Sprint(made + 5)
	d.Close()

	found := func(d *Desk) string {
		_, page, _ := strings.Cut(get(t, d, "/trust"), `id="work-simulation"`)
		_, page, there := strings.Cut(page, "Fitted: ")
		require.True(t, there)
		page, _, _ = strings.Cut(page, "</section>")
		return page
	}
	d = open(t, dir)
	assert.Contains(t, get(t, d, "/trust"), fmt.Sprint(made, " made-up seasons were made before; Start goes on from them."))
	assert.NotContains(t, get(t, d, "/trust?survival=reach&detection=site"), "were made before")
	startedAndStopped(t, d, all, made+5, "simulation")
	together := found(d)
	// Of fewer the same file serves, and keeps what it has.
	startedAndStopped(t, d, "2", 2, "simulation")
	assert.Equal(t, made+5, d.seasonsBefore(d.current(), s.Data.Specs()[0]).Replicates)

	other := hollin(t)
	e := open(t, other)
	startedAndStopped(t, e, all, made+5, "simulation")
	assert.Equal(t, found(e), together, "what was made in two runs is not what one makes")
	for _, f := range keptFiles(t, other) {
		require.NoError(t, os.WriteFile(f, []byte("nothing"), 0o644))
	}
	e.Close()
	e = open(t, other)
	assert.NotContains(t, get(t, e, "/trust"), "were made before")
}

func TestReplicatesOfFewModelsAreKept(t *testing.T) {
	dir := hollin(t)
	d := open(t, dir)
	require.NoError(t, os.Mkdir(filepath.Join(dir, earlierFolder), 0o755))
	for i := range mostReplicateFiles + 5 {
		name := filepath.Join(dir, earlierFolder, replicatesMark+string(rune('a'+i)))
		require.NoError(t, os.WriteFile(name, nil, 0o644))
		at := time.Now().Add(time.Duration(i-100) * time.Hour)
		require.NoError(t, os.Chtimes(name, at, at))
	}
	require.NoError(t, d.fewReplicates(earlierFolder))
	files := keptFiles(t, dir)
	assert.Len(t, files, mostReplicateFiles)
	assert.NoFileExists(t, filepath.Join(dir, earlierFolder, replicatesMark+"a"))
	assert.Equal(t, 0, len(d.lastEdit(d.current())), "replicates are taken for earlier versions")
}

// With --read-only nothing is written, a bootstrap's replicates neither.
func TestReadOnlyKeepsNoReplicates(t *testing.T) {
	dir := hollin(t)
	d := open(t, dir, func(o *Options) { o.ReadOnly = true })
	startedAndStopped(t, d, "4", 4)
	startedAndStopped(t, d, "4", 4, "simulation")
	assert.NoDirExists(t, filepath.Join(dir, earlierFolder))
}
