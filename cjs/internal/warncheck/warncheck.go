// Package warncheck holds warnings to what must raise them, in tests.
package warncheck

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
)

// Raised checks that a warning like want, of its ID and About, is among raise,
// with the facts in its message, and not among near.
func Raised(t *testing.T, want cjs.Warning, raise, near []cjs.Warning, facts []string) {
	t.Helper()
	w := find(want, raise)
	require.NotNil(t, w, "%s: %v", want.ID, raise)
	for _, fact := range facts {
		assert.Contains(t, w.Message, fact)
	}
	assert.Nil(t, find(want, near), want.ID)
}

func find(want cjs.Warning, list []cjs.Warning) *cjs.Warning {
	for i := range list {
		if w := &list[i]; w.ID == want.ID && (want.About == "" || w.About == want.About) {
			return w
		}
	}
	return nil
}
