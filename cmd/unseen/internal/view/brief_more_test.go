package view

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// How many records more there are is written as all large counts are.
func TestShortenedCountsLikeAllTables(t *testing.T) {
	short := shortened(Table{Rows: make([][]Cell, 1800)}, 8)
	assert.Equal(t, "and 1,792 more: --csv writes them all", short[0].Notes[0].Text)
}
