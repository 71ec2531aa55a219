package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestEveryFieldIsDocumented: docs/json.md has a section for each schema, which
// names its fields and no others; those all documents share stand once.
func TestEveryFieldIsDocumented(t *testing.T) {
	data, err := os.ReadFile("../../docs/json.md")
	require.NoError(t, err)
	page := string(data)
	fields := func(section string) []string {
		var out []string
		for _, line := range strings.Split(section, "\n") {
			if strings.HasPrefix(line, "| `") {
				for _, m := range regexp.MustCompile("`([a-z0-9_.]+)`").FindAllStringSubmatch(strings.Split(line, "|")[1], -1) {
					out = append(out, m[1])
				}
			}
		}
		return out
	}
	_, shared, ok := strings.Cut(page, "Every document begins with")
	require.True(t, ok)
	shared, _, _ = strings.Cut(shared, "An **estimate**")
	head := fields(shared)
	require.NotEmpty(t, head)

	schemas, err := filepath.Glob("../../docs/schema/*.json")
	require.NoError(t, err)
	require.NotEmpty(t, schemas)
	for _, path := range schemas {
		kind := strings.TrimSuffix(filepath.Base(path), ".json")
		b, err := os.ReadFile(path)
		require.NoError(t, err)
		var schema struct {
			Properties map[string]any
		}
		require.NoError(t, json.Unmarshal(b, &schema))
		var want []string
		for name := range schema.Properties {
			want = append(want, name)
		}
		_, section, ok := strings.Cut(page, "\n## "+kind+"\n")
		require.True(t, ok, "docs/json.md has no section %s", kind)
		section, _, _ = strings.Cut(section, "\n## ")
		assert.ElementsMatch(t, want, append(append([]string{}, head...), fields(section)...), "docs/json.md, section %s", kind)
	}
	assert.Len(t, schemas, strings.Count(page, "\n## ")-1, "a section without a schema")
}
