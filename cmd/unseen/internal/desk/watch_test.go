package desk

import (
	"bufio"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// soon is within what time a change must be told, on a machine with other work.
const soon = 20 * time.Second

func told(t *testing.T, changed <-chan struct{}, about string) {
	t.Helper()
	select {
	case <-changed:
	case <-time.After(soon):
		t.Fatal(about)
	}
}

// The system tells of every change of a table or the study, also in folders that
// came meanwhile, and of none of what the page keeps for itself.
func TestSystemTellsOfChanges(t *testing.T) {
	dir := hollin(t)
	d := open(t, dir)
	d.stop() // its own watching, so that one is looked at
	d.watching.Wait()
	d = &Desk{folder: d.folder, ctx: t.Context(), study: "study.toml", answers: map[string]*kept{}}
	w := d.watcher()
	require.NotNil(t, w, "the system does not tell of changes here")
	t.Cleanup(func() { w.Close() })
	first := d.changes.next()
	go d.listen(w)
	told(t, first, "the first look is not told")
	for _, c := range []struct {
		about string
		do    func() error
	}{
		{"a table changed", func() error { return appendTo(filepath.Join(dir, "fish.csv"), "x\n") }},
		{"a table in a folder changed", func() error { return appendTo(filepath.Join(dir, "arrays", "alder-ford.csv.gz"), "x") }},
		{"a file came in the place of the study", func() error {
			if err := os.WriteFile(filepath.Join(dir, ".temporary"), nil, 0o644); err != nil {
				return err
			}
			return os.Rename(filepath.Join(dir, ".temporary"), filepath.Join(dir, "study.toml"))
		}},
		{"a folder came", func() error { return os.Mkdir(filepath.Join(dir, "new"), 0o755) }},
		{"a table in the new folder", func() error { return os.WriteFile(filepath.Join(dir, "new", "x.csv"), nil, 0o644) }},
		{"a table went", func() error { return os.Remove(filepath.Join(dir, "fish.csv")) }},
	} {
		time.Sleep(3 * settled) // what came before is told
		changed := d.changes.next()
		require.NoError(t, c.do())
		told(t, changed, c.about+" and it is not told")
	}
	time.Sleep(3 * settled)
	changed := d.changes.next()
	require.NoError(t, os.WriteFile(filepath.Join(dir, ".hidden"), nil, 0o644))
	select {
	case <-changed:
		t.Error("a hidden file is told of")
	case <-time.After(5 * settled):
	}
}

func appendTo(path, text string) error {
	f, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	defer f.Close()
	_, err = f.WriteString(text)
	return err
}

// Where the system does not tell, the files are looked at again and again.
func TestPollingSeesChanges(t *testing.T) {
	dir := hollin(t)
	d := open(t, dir)
	go d.poll()
	told(t, d.changes.next(), "the first look is not told")
	changed := d.changes.next()
	require.NoError(t, appendTo(filepath.Join(dir, "study.toml"), "# more\n"))
	told(t, changed, "a change is not seen")
}

// A page that is open is sent another mark when the study changes.
func TestOpenPageIsSentChanges(t *testing.T) {
	dir := hollin(t)
	d, address := serve(t, dir)
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, address+"/events", nil)
	require.NoError(t, err)
	r.AddCookie(&http.Cookie{Name: d.guard.cookie, Value: d.guard.token})
	answer, err := http.DefaultClient.Do(r)
	require.NoError(t, err)
	defer answer.Body.Close()
	lines := bufio.NewScanner(answer.Body)
	mark := func() string {
		for lines.Scan() {
			if m, ok := strings.CutPrefix(lines.Text(), "data: "); ok {
				return m
			}
		}
		t.Fatal("the page is told nothing more")
		return ""
	}
	was := mark()
	assert.Equal(t, d.mark(), was)
	require.NoError(t, appendTo(filepath.Join(dir, "study.toml"), "# more\n"))
	for is := was; is == was; {
		is = mark()
	}
	assert.NotEqual(t, was, d.mark())
}
