package ingest_test

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/history/ingest"
	"example.org/unseen/history/study"
)

// Records and fish that name a site by another spelling are of the site where the
// study lists it, at a site with rows too; without it they are of none.
func TestAliasesOfSites(t *testing.T) {
	dir := t.TempDir()
	for name, text := range map[string]string{
		"fish.csv":      "tag,released,site\n999041000000031,2025-04-01 10:00,Trap\n999041000000042,2025-04-01 10:00,the trap\n",
		"sightings.csv": "tag,site,antenna,time\n999041000000031,Weir,a,2025-04-02 10:00:00\n999041000000042,Wier,b,2025-04-02 10:00:00\n999041000000031,MOUTH,x,2025-04-03 10:00:00\n",
	} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644))
	}
	const text = `[fish]
file = "fish.csv"
[sightings]
files = ["sightings.csv"]
[[site]]
name = "Trap"
aliases = ["the trap"]
[[site]]
name = "Weir"
aliases = "Wier"
rows = { upper = ["a"], lower = ["b"] }
[[site]]
name = "Mouth"
aliases = ["MOUTH", "Estuary"]
`
	read := func(text string) (*ingest.Result, error) {
		st, err := study.Parse(filepath.Join(dir, "study.toml"), []byte(text))
		if err != nil {
			return nil, err
		}
		return ingest.Run(context.Background(), st, ingest.Options{})
	}
	res, err := read(text)
	require.NoError(t, err)
	assert.EqualValues(t, 3, res.Accounting.Kept)
	assert.Equal(t, []uint64{0b101, 0b010}, res.Histories.Seen)

	_, err = read(strings.Replace(text, `aliases = ["the trap"]`+"\n", "", 1))
	assert.ErrorContains(t, err, `"the trap"`)
	res, err = read(strings.Replace(text, `aliases = "Wier"`+"\n", "", 1))
	require.NoError(t, err)
	assert.EqualValues(t, 2, res.Accounting.Kept)
	require.Len(t, res.Accounting.SetAside, 1)
	assert.Equal(t, "unknown_site", res.Accounting.SetAside[0].Rule)

	for bad, says := range map[string]string{
		`aliases = ["MOUTH", "Weir"]`:  `the alias "Weir" is the name of a site, or another alias, on line 8`,
		`aliases = ["MOUTH", "Wier"]`:  `the alias "Wier" is the name of a site, or another alias`,
		`aliases = ["MOUTH", "MOUTH"]`: `the alias "MOUTH" is`,
		`aliases = ["a/b"]`:            `cannot hold "/"`,
		`aliases = 3`:                  "aliases must be text",
	} {
		_, err = read(strings.Replace(text, `aliases = ["MOUTH", "Estuary"]`, bad, 1))
		assert.ErrorContains(t, err, says, bad)
	}
}
