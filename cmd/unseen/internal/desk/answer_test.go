package desk

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestAnswerOfOneArray: what can be said of one array below the release stands in
// the answer, products too; fish are counted, not lines of a table.
func TestAnswerOfOneArray(t *testing.T) {
	dir := t.TempDir()
	for name, text := range map[string]string{
		"h.csv": "cohort,Mill Lade,Tidehead,count\nearly,1,1,96\nearly,1,0,104\nlate,1,1,64\nlate,1,0,136\n",
		studyName: "title = \"One array below the trap\"\n[histories]\nfile = \"h.csv\"\ncohort = \"cohort\"\n" +
			"[[site]]\nname = \"Mill Lade\"\nkm = 20\n[[site]]\nname = \"Tidehead\"\nkm = 0\n",
	} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600))
	}
	page := get(t, open(t, dir), "/answer")
	assert.Contains(t, page, "done: 400 fish, 2 sites")
	assert.Contains(t, page, "If detection at the array were this, then this share passed:")
	assert.Contains(t, page, "a second row of antennas there, a site farther down, or test passes")
	assert.Contains(t, page, "Products only (survival × detection; not separable)")
}
