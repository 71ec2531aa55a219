package main

import (
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cmd/unseen/internal/view"
)

// TestCautionsAreExplained: docs/cautions.md has each caution and each
// assumption of the screens, word for word.
func TestCautionsAreExplained(t *testing.T) {
	data, err := os.ReadFile("../../docs/cautions.md")
	require.NoError(t, err)
	page := string(data)
	for _, c := range view.Cautions {
		assert.Contains(t, page, "\n\n**"+c+"**")
	}
	list := view.Assumptions().Sections[0].Tables[0]
	require.Greater(t, len(list.Rows), 5)
	for _, row := range list.Rows {
		assert.Contains(t, page, "\n| "+row[0].Text+" | "+row[1].Text+" | ")
	}
}
