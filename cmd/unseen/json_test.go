package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// described is what a schema says of a field: itself, or of the type it is of.
type described struct {
	Description string
	Ref         string `json:"$ref"`
	AnyOf       []described
}

// TestEveryFieldIsDocumented: the schema of each document says what each of its fields
// is, and docs/json.md leads to every schema.
func TestEveryFieldIsDocumented(t *testing.T) {
	page, err := os.ReadFile("../../docs/json.md")
	require.NoError(t, err)
	schemas, err := filepath.Glob("../../docs/schema/*.json")
	require.NoError(t, err)
	require.NotEmpty(t, schemas)
	fields := 0
	for _, path := range schemas {
		name := filepath.Base(path)
		assert.Contains(t, string(page), "(schema/"+name+")")
		b, err := os.ReadFile(path)
		require.NoError(t, err)
		var schema struct {
			Properties map[string]described
			Defs       map[string]described `json:"$defs"`
		}
		require.NoError(t, json.Unmarshal(b, &schema))
		for field, d := range schema.Properties {
			if field == "kind" || field == "version" {
				continue // constants, which docs/json.md explains
			}
			fields++
			said := d.Description
			for _, of := range append(d.AnyOf, d) {
				if ref := strings.TrimPrefix(of.Ref, "#/$defs/"); said == "" && ref != "" {
					said = schema.Defs[ref].Description
				}
			}
			assert.NotEmpty(t, said, "%s: nothing says what %s is; give the field of its type a comment", name, field)
		}
	}
	assert.Greater(t, fields, 150)
}

// TestATotalSaysWhichCohortsHaveNone: an estimate of all fish names the cohorts among
// them for which alone it is too early, and only those.
func TestATotalSaysWhichCohortsHaveNone(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	study := filepath.Join("internal", "demo", "files", "study.toml")
	for _, day := range []string{"2025-04-12", "2025-04-20", "2025-05-18"} {
		code, out, stderr := runHere(t.Context(), t, "fit", study, "--json", "--as-of", day)
		require.Equal(t, exitUsable, code, stderr)
		var doc struct {
			Passed []struct {
				Of      map[string]string
				Site    string
				Passed  struct{ Status string } `json:"passed_percent"`
				Without []string                `json:"too_early_for"`
			}
		}
		require.NoError(t, json.Unmarshal([]byte(out), &doc))
		want := map[string][]string{}
		for _, p := range doc.Passed {
			if p.Passed.Status == "too early" {
				want[p.Site] = append(want[p.Site], p.Of["cohort"])
			}
		}
		for _, p := range doc.Passed {
			if len(p.Of) == 0 {
				assert.ElementsMatch(t, want[p.Site], p.Without, "%s %s", day, p.Site)
			} else {
				assert.Empty(t, p.Without)
			}
		}
		assert.Equal(t, day == "2025-05-18", len(want) == 0, day)
		code, out, _ = runHere(t.Context(), t, "fit", study, "--as-of", day)
		require.Equal(t, exitUsable, code)
		assert.Equal(t, len(want) > 0, strings.Contains(out, "# of all fish together"), out)
	}
}
