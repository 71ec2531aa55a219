package view

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestDigits(t *testing.T) {
	for _, c := range []struct {
		x      float64
		digits int
		want   string
	}{
		{43.14, 1, "43.1"}, {1800, 0, "1,800"}, {-1234567.5, 1, "-1,234,567.5"}, {999, 0, "999"},
		{0, 1, "0.0"}, {0.0004, 3, "<0.001"}, {-0.0004, 3, "-<0.001"}, {0.4, 0, "<1"},
		{math.NaN(), 1, "–"}, {math.Inf(1), 1, "∞"}, {100, 1, "100.0"},
	} {
		assert.Equal(t, c.want, Digits(c.x, c.digits))
	}
}

func TestWords(t *testing.T) {
	assert.Equal(t, "1 record", Plural(1, "record"))
	assert.Equal(t, "1,200 records", Plural(1200, "record"))
	assert.Equal(t, "2 passages by fish", Plural(2, "passage by fish", "passages by fish"))
	assert.Equal(t, "a", And([]string{"a"}))
	assert.Equal(t, "a, b and c", And([]string{"a", "b", "c"}))
	assert.Equal(t, "43.1 %", Percent(.43114, 1))
	assert.Equal(t, "40.2–46.0", Span(40.21, 46, 1))
}
