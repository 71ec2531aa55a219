package table

import (
	"os"
	"path/filepath"
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/text/encoding/charmap"

	"example.org/unseen/history/study"
)

const (
	composed = "M\u00fchle"  // ü
	split    = "Mu\u0308hle" // u, and the accent as a sign of its own, as on a Mac
)

// A pattern finds the same files on every system, whatever case and form their
// names are in.
func TestPatternsFindTheSameOnEverySystem(t *testing.T) {
	for _, c := range []struct {
		pattern, name string
		want          bool
	}{
		{"*.csv", "READS.CSV", true},
		{"Weir*.txt", "weir 0501.TXT", true},
		{composed + "*.csv", split + " 2025.csv", true},
		{split + "?.csv", composed + "1.csv", true},
		{"*.csv", "reads.txt", false},
		{"mill*.csv", "weir.csv", false},
	} {
		match, err := Match(c.pattern, c.name)
		require.NoError(t, err)
		assert.Equal(t, c.want, match, "%s of %s", c.name, c.pattern)
	}
	dir := t.TempDir()
	for _, name := range []string{"READS.CSV", "more.csv", split + ".Csv", "notes.txt"} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte("tag,site,time\n"), 0o644))
	}
	found := func(written ...string) (names []string) {
		group := &study.SightingFiles{Title: "[sightings]", Written: written}
		for _, w := range written {
			group.Files = append(group.Files, filepath.Join(dir, w))
		}
		files, _, _, err := Files(&study.Study{Path: filepath.Join(dir, "study.toml"), Sightings: []*study.SightingFiles{group}})
		require.NoError(t, err)
		for _, f := range files {
			names = append(names, f.Name)
		}
		return names
	}
	if runtime.GOOS != "darwin" { // which may give a name back in another form
		assert.Equal(t, []string{split + ".Csv", "READS.CSV", "more.csv"}, found("*.csv"))
	}
	assert.Len(t, found("*.csv", "more.csv", "./MORE*.csv"), 3, "each once")
	st := &study.Study{Path: filepath.Join(dir, "study.toml"), Sightings: []*study.SightingFiles{{Written: []string{"*.csv"}, Files: []string{filepath.Join(dir, "*.csv")}}}}
	assert.Equal(t, "*.csv", WouldRead(st, filepath.Join(dir, "REPORT.CSV")), "a file of ours would be read as data")
	assert.Empty(t, WouldRead(st, filepath.Join(dir, "report.html")))
}

// The name of a file does not depend on where the study is called from.
func TestShownNames(t *testing.T) {
	for _, c := range []struct{ dir, path, written, want string }{
		{"s", "s/a/x.csv", "a/x.csv", "a/x.csv"},
		{"/r/s", "/r/s/a/x.csv", "a/x.csv", "a/x.csv"},
		{"s", "t/x.csv", "../t/x.csv", "../t/x.csv"},
		{"/r/s", "/r/t/x.csv", "../t/x.csv", "../t/x.csv"},
		{"/r/s", "/data/x.csv", "/data/x.csv", "/data/x.csv"},
		{"s", "s/..x.csv", "..x.csv", "..x.csv"},
	} {
		assert.Equal(t, c.want, shownName(filepath.FromSlash(c.dir), filepath.FromSlash(c.path), c.written), "%v", c)
	}
}

// Tables in the codes of old systems read as the study says.
func TestOldCodes(t *testing.T) {
	const want = "Ort,L\u00e4nge\nM\u00fchlwehr,71\n\u00c5,80\n"
	for name, is := range map[string]*charmap.Charmap{
		"windows-1252": charmap.Windows1252, "ibm850": charmap.CodePage850, "cp850": charmap.CodePage850, "IBM437": charmap.CodePage437,
		"iso-8859-1": charmap.Windows1252, "macintosh": charmap.Macintosh,
	} {
		data, err := is.NewEncoder().String(want)
		require.NoError(t, err)
		path := filepath.Join(t.TempDir(), "t.csv")
		require.NoError(t, os.WriteFile(path, []byte(data), 0o644))
		st, err := study.Parse(filepath.Join(filepath.Dir(path), "study.toml"), []byte("[histories]\nfile = \"t.csv\"\nencoding = \""+name+"\"\n[[site]]\nname = \"A\"\n[[site]]\nname = \"B\"\n"))
		require.NoError(t, err, name)
		b, err := OpenBlocks(t.Context(), File{Path: path, Name: "t.csv", Reading: st.Histories.Reading}, true)
		require.NoError(t, err)
		assert.Equal(t, []string{"Ort", "L\u00e4nge"}, b.Names, name)
		var lines string
		require.NoError(t, b.Each(t.Context(), func(x Block) (bool, error) {
			return x.Lines(func(line []byte, _ int) bool { lines += string(line) + "\n"; return false }), nil
		}))
		assert.Equal(t, "M\u00fchlwehr,71\n\u00c5,80\n", lines, name)
		require.NoError(t, b.Close())
	}
}
