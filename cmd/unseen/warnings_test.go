package main

import (
	"os"
	"regexp"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/compare"
	"example.org/unseen/cjs/opinion"
)

// TestEveryWarningIsExplained: docs/convergence.md has a heading for each ID,
// with what was seen, what it means and what to try below it, the fit's in
// their order, and none for an ID that is no more.
func TestEveryWarningIsExplained(t *testing.T) {
	page, err := os.ReadFile("../../docs/convergence.md")
	require.NoError(t, err)
	parts := regexp.MustCompile(`(?m)^### (.*)$`).FindAllStringSubmatchIndex(string(page), -1)
	var headings []string
	for i, p := range parts {
		id := string(page[p[2]:p[3]])
		headings = append(headings, id)
		end := len(page)
		if i+1 < len(parts) {
			end = parts[i+1][0]
		}
		text := string(page[p[1]:end])
		assert.Regexp(t, `\n\nSeen: `, text, id)
		assert.Regexp(t, `\n\nIt means `, text, id)
		assert.Regexp(t, `(?m)^(Try|Please|Read|Report|Trust|Look) .*`, text, id)
	}
	assert.Equal(t, slices.Concat(cjs.WarningIDs, compare.WarningIDs, opinion.WarningIDs), headings)
}
