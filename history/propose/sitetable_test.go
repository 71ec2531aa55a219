package propose_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A table of the sites gives their km and their order, and the one place above
// them is that of release, whichever way km are counted.
func TestSiteTableGivesKm(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	for table, want := range map[string][]float64{
		"name;km\nTidehead;0\nScar Weir;14,2\nMill Lade;58\nAlder Ford;36,6\n":  {58, 36.6, 14.2, 0},
		"Ort,Fluss-km\nMill Lade,2\nAlder Ford,20\nScar Weir,31\nTidehead,40\n": {2, 20, 31, 40},
		"name,km\nAlder Ford,20\nScar Weir,31\n":                                nil, // one is not there
		"name,size\nMill Lade,2\nAlder Ford,20\nScar Weir,31\nTidehead,40\n":    nil,
	} {
		dir := readerFile(t, "when,where,tag", "tag,released,length_mm", func(tag string, site, _ int, at time.Time, _ *rand.Rand) []string {
			return []string{at.Format("2006-01-02 15:04:05"), threeSites[site], tag}
		})
		require.NoError(t, os.WriteFile(filepath.Join(dir, "places.csv"), []byte(table), 0o644))
		p, st := guessIn(t, dir, dir)
		var km []float64
		var names []string
		for _, s := range st.Sites {
			names = append(names, s.Name)
			if s.Km == s.Km {
				km = append(km, s.Km)
			}
		}
		assert.Equal(t, want, km, p.Study)
		if want != nil {
			assert.Equal(t, append([]string{"Mill Lade"}, threeSites...), names)
			assert.Contains(t, strings.Join(p.Doubts, "\n"), "are those of places.csv")
		}
	}
}

// The place of release is the one value of a column that is called so; several
// are a question.
func TestPlaceOfRelease(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	for heading, c := range map[string]struct {
		place func(i int) string
		site  string
		asks  bool
	}{
		"Utsättningsplats": {func(int) string { return "Mill Lade" }, "Mill Lade", false},
		"Trap":             {func(int) string { return "Mill Lade" }, "Mill Lade", false},
		"Species":          {func(int) string { return "trout" }, "Release site", false},
		"Lieu de lâcher":   {func(i int) string { return []string{"Mill Lade", "Upper Lade"}[i%2] }, "Release site", true},
	} {
		dir := readerFile(t, "when,where,tag", "tag,released,length_mm", func(tag string, site, _ int, at time.Time, _ *rand.Rand) []string {
			return []string{at.Format("2006-01-02 15:04:05"), threeSites[site], tag}
		})
		text, err := os.ReadFile(filepath.Join(dir, "fish.csv"))
		require.NoError(t, err)
		var out strings.Builder
		for i, line := range strings.Split(strings.TrimSpace(string(text)), "\n") {
			more := heading
			if i > 0 {
				more = c.place(i)
			}
			fmt.Fprintf(&out, "%s,%s\n", line, more)
		}
		require.NoError(t, os.WriteFile(filepath.Join(dir, "fish.csv"), []byte(out.String()), 0o644))
		p, st := guessIn(t, dir, dir)
		assert.Equal(t, c.site, st.Sites[0].Name, p.Study)
		assert.Equal(t, c.asks, strings.Contains(strings.Join(p.Doubts, "\n"), "has several places"), heading)
	}
}
