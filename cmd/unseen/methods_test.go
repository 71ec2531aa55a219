package main

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
)

// TestMethodsAreInOrder: the formulas of docs/methods.md are numbered 1, 2, …,
// every number that a document names is one of them, and the files named as
// their code are there.
func TestMethodsAreInOrder(t *testing.T) {
	const root = "../.."
	page, err := os.ReadFile(filepath.Join(root, "docs/methods.md"))
	require.NoError(t, err)
	number := regexp.MustCompile(`\((\d+)\)`)
	formulas := 0
	inside := false
	var prose strings.Builder
	for _, line := range strings.Split(string(page), "\n") {
		switch {
		case strings.HasPrefix(line, "```"):
			inside = !inside
		case !inside:
			prose.WriteString(line + "\n")
		case line != "" && line[0] == '(':
			formulas++
			assert.Equal(t, strconv.Itoa(formulas), number.FindStringSubmatch(line)[1], line)
		}
	}
	require.Greater(t, formulas, 30)
	named := number.FindAllStringSubmatch(prose.String(), -1)
	other, err := os.ReadFile(filepath.Join(root, "docs/convergence.md"))
	require.NoError(t, err)
	named = append(named, regexp.MustCompile(`methods, formula (\d+)`).FindAllStringSubmatch(string(other), -1)...)
	for _, m := range named {
		n, err := strconv.Atoi(m[1])
		require.NoError(t, err)
		assert.LessOrEqual(t, n, formulas, m[0])
	}
	files := regexp.MustCompile("`([a-z/]+\\.go)`").FindAllStringSubmatch(prose.String(), -1)
	require.Greater(t, len(files), 15)
	for _, f := range files {
		assert.FileExists(t, filepath.Join(root, f[1]))
	}
	// The closed form is what convergence.md says it is.
	assert.Contains(t, string(page), "(20)  M_i = ")
}

// The rule of what is too early is told with the numbers the code has.
func TestTooEarlyRuleInTheDocuments(t *testing.T) {
	for file, words := range map[string]string{
		"methods.md":     fmt.Sprintf("is below %v, or less than %v times what it would be were all migrants in", cjs.TooEarlySE, cjs.TooEarlyRatio),
		"convergence.md": fmt.Sprintf("is %v or more, and waiting for all migrants would make it smaller by a fifth or more", cjs.TooEarlySE),
	} {
		page, err := os.ReadFile(filepath.Join("../../docs", file))
		require.NoError(t, err)
		assert.Contains(t, string(page), words, file)
	}
	assert.InDelta(t, 1-1/cjs.TooEarlyRatio, 0.2, 1e-12, "a fifth")
}
