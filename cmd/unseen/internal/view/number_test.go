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
		{43.14, 1, "43.1"}, {1800, 0, "1,800"}, {-1234567.5, 1, "−1,234,567.5"}, {999, 0, "999"},
		{0, 1, "0.0"}, {0.0004, 3, "<0.001"}, {-0.0004, 3, "<0.001"}, {math.Copysign(0, -1), 1, "0.0"}, {-0.06, 1, "−0.1"}, {0.4, 0, "<1"},
		{math.NaN(), 1, "–"}, {math.Inf(1), 1, "∞"}, {100, 1, "100.0"},
	} {
		assert.Equal(t, c.want, Digits(c.x, c.digits))
	}
}

func TestSigned(t *testing.T) {
	for _, c := range []struct {
		x    float64
		want string
	}{{1.25, "+1.2"}, {-1.25, "−1.2"}, {0.04, "<0.1"}, {-0.04, "<0.1"}, {0, "0.0"}, {1e-6, "0.0"}, {-1e-6, "0.0"}, {math.NaN(), "–"}, {-0.06, "−0.1"}} {
		assert.Equal(t, c.want, Signed(c.x, 1))
	}
}

func TestWords(t *testing.T) {
	assert.Equal(t, "1 record", Plural(1, "record"))
	assert.Equal(t, "1,200 records", Plural(1200, "record"))
	assert.Equal(t, "2 passages by fish", Plural(2, "passage by fish", "passages by fish"))
	assert.Equal(t, "a", And([]string{"a"}))
	assert.Equal(t, "a, b and c", And([]string{"a", "b", "c"}))
	assert.Equal(t, "43.1 %", Percent(.43114, 1))
	assert.Equal(t, "A day.", Sentence("a day"))
	assert.Equal(t, "A day.", Sentence("a day."))
	assert.Equal(t, "And so on…", Sentence("and so on…"))
	assert.Equal(t, "alder/may.csv is empty.", Sentence("alder/may.csv is empty"))
}

// An interval never looks empty where it is not, and says which end is missing.
func TestSpan(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		low, high     float64
		span, bracket string
	}{
		{40.21, 46, "40.2–46.0", " (40.2–46.0 %)"},
		{nan, 83.14, "up to 83.1", " (up to 83.1 %)"},
		{12, nan, "from 12.0", " (from 12.0 %)"},
		{nan, nan, "–", ""},
		{26.4, 26.4, "26.4", ""},
		{0, 0, "0.0", ""},
		{0, math.Copysign(0, -1), "0.0", ""},
		{26.38, 26.42, "26.38–26.42", " (26.38–26.42 %)"},
		{99.9996, 100, "99.9996–100.0000", " (99.9996–100.0000 %)"},
		{26.4, 26.4000001, "26.4", ""}, // as good as equal
		{0, 0.04, "<0.1", " (<0.1 %)"},
		{0.01, 0.04, "<0.1", " (<0.1 %)"},
		{-0.01, 0.04, "<0.1", " (<0.1 %)"},
		{-0.01, 0.3, "<0.1–0.3", " (<0.1–0.3 %)"},
		{12, math.Inf(1), "12.0–∞", " (12.0–∞ %)"},
	} {
		assert.Equal(t, c.span, Span(c.low, c.high, 1), "%+v", c)
		assert.Equal(t, c.bracket, Bracket(c.low, c.high, 1, " %"), "%+v", c)
	}
	assert.Equal(t, "26.4 % (up to 83.1 %)", PercentSpan(.264, nan, .831, 1))
	assert.Equal(t, "0.0 %", PercentSpan(0, 0, 0, 1))
}

// TestLargeNumbers: digits that say nothing are not shown, but counts have all.
func TestLargeNumbers(t *testing.T) {
	for x, want := range map[float64]string{123456789012345.6: "1.2e14", 1.25e7: "1.2e7", 9999999: "9,999,999.0", -3e12: "−3.0e12"} {
		assert.Equal(t, want, Digits(x, 1))
	}
	assert.Equal(t, "123,456,789", Digits(123456789, 0))
}
