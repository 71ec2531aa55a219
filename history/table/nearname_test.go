package table

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestMistypedNames(t *testing.T) {
	for name, meant := range map[string]string{"remove": "removed", "Removed": "removed", "removed site": "removed_site", "sites": "site", "lenght_mm": "length_mm"} {
		assert.True(t, mistyped(name, meant), "%s %s", name, meant)
	}
	for name, other := range map[string]string{"size": "site", "length": "length_mm", "weight": "weight_g", "side": "site", "moved": "removed"} {
		assert.False(t, mistyped(name, other), "%s %s", name, other)
	}
}
