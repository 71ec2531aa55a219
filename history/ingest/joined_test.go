package ingest

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/history/study"
)

// TestHeaderAgainWithJoinedColumns: a header that stands again among the fish is no
// fish, also where its tag and its release stand in several columns. Figures in the
// names leave nothing else to tell it by.
func TestHeaderAgainWithJoinedColumns(t *testing.T) {
	read := func(columns, header string, lines ...string) []any {
		dir := t.TempDir()
		text := header
		for _, l := range lines {
			text += l + header
		}
		for name, s := range map[string]string{"fish.csv": text, "array.csv": head + good,
			"study.toml": "tag_form = \"text\"\n[fish]\nfile = \"fish.csv\"\n" + columns + "[sightings]\nfiles = [\"array.csv\"]\n[[site]]\nname = \"Mill Lade\"\n[[site]]\nname = \"Tidehead\"\n"} {
			require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(s), 0o644))
		}
		st, err := study.Load(filepath.Join(dir, "study.toml"))
		require.NoError(t, err)
		res := ingestWorld(t, st, Options{})
		var found []string
		for _, f := range res.Findings {
			found = append(found, f.ID)
		}
		return []any{res.Histories.Tag, found}
	}
	want := read(`columns = { tag = "tag 1", released = "let go 1" }`+"\n", "tag 1,let go 1\n", "985141421300001,2025-04-03 20:00\n", "985141421300002,2025-04-03 20:00\n")
	require.Len(t, want[0], 2)
	assert.Equal(t, want, read(`columns = { tag = { join = ["country 1", "number 1"] }, released = { join = ["day 1", "hour 1"] } }`+"\n",
		"country 1,number 1,day 1,hour 1\n", "985,141421300001,2025-04-03,20:00\n", "985,141421300002,2025-04-03,20:00\n"))
}
