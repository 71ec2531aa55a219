package study_test

import (
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/unseen/history/study"
)

// Files named as on another system, and a study with its line ends and mark.
func TestNamesOfOtherSystems(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("there backslashes part folders anyway")
	}
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, `odd\name.csv`), nil, 0o644))
	for written, want := range map[string]string{
		`arrays/a.csv`:           filepath.Join(dir, "arrays", "a.csv"),
		`arrays\a.csv`:           filepath.Join(dir, "arrays", "a.csv"),
		`arrays\*.csv`:           filepath.Join(dir, "arrays", "*.csv"),
		`..\2024\Grüße.csv`:      filepath.Join(filepath.Dir(dir), "2024", "Grüße.csv"),
		`odd\name.csv`:           filepath.Join(dir, `odd\name.csv`),
		`a\[1\].csv`:             filepath.Join(dir, `a\[1\].csv`),
		`/mnt/share/reads.csv`:   `/mnt/share/reads.csv`,
		`\\\\server\share\r.csv`: filepath.Join(dir, `\\\\server\share\r.csv`),
	} {
		text := "[fish]\nfile = 'fish.csv'\n[sightings]\nfiles = ['" + written + "']\n[[site]]\nname = \"A\"\n[[site]]\nname = \"B\"\n"
		for _, form := range []string{text, strings.ReplaceAll(text, "\n", "\r\n"), "\xef\xbb\xbf" + strings.ReplaceAll(text, "\n", "\r\n")} {
			s, err := study.Parse(filepath.Join(dir, "study.toml"), []byte(form))
			require.NoError(t, err, written)
			require.Equal(t, want, s.Sightings[0].Files[0], written)
		}
	}
}
