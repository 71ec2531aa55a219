package figure

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/history/ingest"
	"example.org/unseen/history/study"
)

func TestLabels(t *testing.T) {
	d := &analysis.Data{Study: &study.Study{Units: map[string]string{"flow_m3s": "m³/s", "weight_g": "g", "shape": "a.u."}}}
	for column, want := range map[string]string{
		"fork_length_mm": "fork length (mm)", "weight_g": "weight (g)", "flow_m3s": "flow m3s (m³/s)",
		"shape": "shape (a.u.)", "sex": "sex", "tagging": "tagging", "fat_percent": "fat (%)",
	} {
		assert.Equal(t, want, label(d, column))
	}
}

// TestUnitsOfNothingAreRefused: a unit of a name that is no number of the study
// is a typing error, said with its place.
func TestUnitsOfNothingAreRefused(t *testing.T) {
	dir := t.TempDir()
	write := func(units string) error {
		require.NoError(t, os.WriteFile(filepath.Join(dir, "h.csv"), []byte("fork_length_mm,sex,A,B\n120,m,1,1\n131,f,1,0\n"), 0o644))
		path := filepath.Join(dir, "s.toml")
		require.NoError(t, os.WriteFile(path, []byte("title = \"x\"\nunits = { "+units+" }\n[histories]\nfile = \"h.csv\"\n[[site]]\nname = \"A\"\n[[site]]\nname = \"B\"\nattributes = { gate = 1 }\n"), 0o644))
		_, err := analysis.Open(context.Background(), path, ingest.Options{})
		return err
	}
	require.NoError(t, write(`fork_length_mm = "mm", gate = "m"`))
	assert.ErrorContains(t, write(`fork_lenght_mm = "mm"`), `s.toml:2: units names "fork_lenght_mm", which is no number of the fish, the sites or the conditions; did you mean "fork_length_mm"?`)
	assert.ErrorContains(t, write(`sex = "m"`), "there are: fork_length_mm, gate")
	assert.ErrorContains(t, write(`gate = 3`), "units.gate must be text in quotes")
}
