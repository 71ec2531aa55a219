package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cmd/unseen/internal/changes"
	"example.org/unseen/cmd/unseen/internal/wire"
)

// unshown are numbers of the document that the answer of fit shows none of, or
// shows by another number: where the search went, the covariance, standard
// errors (the limits move with them), values put in, what check shows, the
// curves of figures.
var unshown = []string{"covariance", "curves", "se", "at", "iterations", "distance_to_maximum_se", "parameters", "estimable_here",
	"findings", "version", "km", "level", "length"}

// leaves walks the numbers of a document and gives each, by its path, and how
// to set it.
func leaves(path string, x any, visit func(path string, value float64, set func(float64))) {
	switch x := x.(type) {
	case map[string]any:
		for key, v := range x {
			switch {
			case slices.Contains(unshown, key), strings.HasPrefix(path, ".one_site.if") && key == "detection_percent",
				strings.Contains(path, ".set_aside[") && key == "fish",
				strings.HasPrefix(path, ".were_the_season_over") && strings.Contains(path, ".passed[") && key != "estimate" && key != "low" && key != "high" && key != "passed_percent",
				strings.HasPrefix(path, ".were_the_season_over") && key == "raw":
				continue
			}
			if n, ok := v.(float64); ok {
				visit(path+"."+key, n, func(y float64) { x[key] = y })
				continue
			}
			leaves(path+"."+key, v, visit)
		}
	case []any:
		for i, v := range x {
			leaves(fmt.Sprintf("%s[%d]", path, i), v, visit)
		}
	}
}

// Whatever number of the answer differs, changes does not say that nothing has
// changed: each is moved by 1 in turn, in a finished season and in one that runs.
func TestEveryNumberOfTheAnswerCounts(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	dir := t.TempDir()
	code, _, stderr := runHere(t.Context(), t, "demo", filepath.Join(dir, "hollin"))
	require.Zero(t, code, stderr)
	study := filepath.Join(dir, "hollin", "study.toml")
	one := filepath.Join(dir, "one.toml")
	require.NoError(t, os.WriteFile(filepath.Join(dir, "m.csv"), []byte("release_site,released,Tidehead\nMill Lade,1000,310\n"), 0o644))
	require.NoError(t, os.WriteFile(one, []byte("[next_seen]\nfile = \"m.csv\"\n[[site]]\nname = \"Mill Lade\"\n[[site]]\nname = \"Tidehead\"\n"), 0o644))
	for name, args := range map[string][]string{
		"finished": {"--survival", "reach + cohort + fork_length_mm"},
		"running":  {"--as-of", "2025-04-20", "--survival", "reach + cohort"},
		"one site": nil,
	} {
		args = append([]string{"fit", study, "--json"}, args...)
		if name == "one site" {
			args[1] = one
		}
		code, out, stderr := runHere(t.Context(), t, args...)
		require.Zero(t, code, stderr)
		read := func(doc any) *wire.Fit {
			b, err := json.Marshal(doc)
			require.NoError(t, err)
			var f wire.Fit
			require.NoError(t, json.Unmarshal(b, &f))
			return &f
		}
		var doc any
		require.NoError(t, json.Unmarshal([]byte(out), &doc))
		for _, long := range []string{"covariance", "effects.curves"} {
			in := doc.(map[string]any)
			if from, key, nested := strings.Cut(long, "."); nested {
				in[from].(map[string]any)[key] = nil
			} else {
				in[from] = nil
			}
		}
		now := read(doc)
		says := func(before *wire.Fit) string {
			page := changes.Between(wire.Head{}, "old.json", before, now).Page("", "")
			return strings.Join(page.Sections[0].Paragraphs, "\n")
		}
		const nothing = "Nothing has changed"
		require.Contains(t, says(now), nothing, name)
		moved := 0
		var quiet []string
		leaves("", doc, func(path string, value float64, set func(float64)) {
			moved++
			set(value + 1)
			if strings.Contains(says(read(doc)), nothing) {
				quiet = append(quiet, path)
			}
			set(value)
		})
		assert.Empty(t, quiet, name)
		assert.Greater(t, moved, 50, name)
	}
}
