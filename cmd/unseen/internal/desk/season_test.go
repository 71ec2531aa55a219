package desk

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The figure of an earlier day names that day as the one its data go through, in
// a season that is over and in one that went on.
func TestDayFigureSaysItsDay(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	for name, c := range map[string]struct{ top, n, day string }{
		"over":              {"", "10", "13 April 2025"},
		"running":           {"as_of = 2025-05-01\n", "10", "13 April 2025"},
		"ended by last_day": {"last_day = 2025-04-14\n", "99", "14 April 2025"},
	} {
		dir := hollin(t)
		require.NoError(t, os.WriteFile(filepath.Join(dir, "study.toml"), []byte(c.top+studyText(t, dir)), 0o644))
		page := get(t, open(t, dir), "/season?n="+c.n)
		_, day, _ := strings.Cut(page, "By the end of ")
		assert.True(t, strings.HasPrefix(day, c.day), "%s: %.20s", name, day)
		_, figure, _ := strings.Cut(page, "<figure")
		figure, _, _ = strings.Cut(figure, "</figure>")
		_, through, _ := strings.Cut(figure, "data through ")
		assert.True(t, strings.HasPrefix(through, c.day), "%s: %.20s", name, through)
	}
}
