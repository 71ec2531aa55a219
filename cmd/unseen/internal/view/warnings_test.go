package view

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/unseen/cjs"
)

func TestAtMostFiveWarnings(t *testing.T) {
	var list []cjs.Warning
	for i := range 5 {
		list = append(list, cjs.Warning{ID: "a", Message: fmt.Sprint(i)})
	}
	s := warningSection(list)
	assert.Len(t, s.Warnings, 5)
	assert.Len(t, s.Notes, 1)
	list = append(list, cjs.Warning{ID: "b"}, cjs.Warning{ID: "c"}, cjs.Warning{ID: "b"})
	s = warningSection(list)
	assert.Len(t, s.Warnings, 5)
	assert.Equal(t, "4", s.Warnings[4].Message)
	assert.Equal(t, "3 warnings more: b (2) and c. --json and --csv hold them all.", s.Notes[0])
}
