package propose

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/unseen/history/table"
)

// The names of files in a study stand from its own folder, with slashes.
func TestNamesFromTheStudy(t *testing.T) {
	for _, c := range []struct{ base, path, want string }{
		{".", "tables/fish.csv", "tables/fish.csv"},
		{"tables", "tables/arrays/a.csv", "arrays/a.csv"},
		{"studies", "tables/fish.csv", "../tables/fish.csv"},
		{"/r/studies", "/r/tables/fish.csv", "/r/tables/fish.csv"},
		{"/r", "/r/tables/fish.csv", "tables/fish.csv"},
	} {
		assert.Equal(t, c.want, nameFrom(filepath.FromSlash(c.base), filepath.FromSlash(c.path)), "%v", c)
	}
	here := filepath.ToSlash(absolute("."))
	rel, err := filepath.Rel("/", here)
	assert.NoError(t, err)
	assert.Equal(t, filepath.ToSlash(rel)+"/tables/fish.csv", nameFrom("/", "tables/fish.csv"))
}

// What a Mac wrote into the name of a file is the place that the tables name.
func TestPlacesOfFilesFromAMac(t *testing.T) {
	const composed, apart = "M\u00fchle", "Mu\u0308hle"
	s := &sample{file: table.File{Name: "arrays/" + apart + " 2025.csv"}}
	assert.Equal(t, composed, s.levels(false)[2])
	assert.Equal(t, fold(composed), fold(apart))
	assert.Equal(t, composed, knownName(apart, []map[string]int{{composed: 3}}))
}
