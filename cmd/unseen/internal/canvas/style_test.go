package canvas

import (
	"fmt"
	"image/color"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The thresholds are those of WCAG 2.2: 4.5 for text, 3 for what must be told
// apart by its edge.
func TestContrast(t *testing.T) {
	// The ratios of black and of #777777 on white, as WCAG's own examples
	// and techniques give them (21:1, 4.48:1), from memory.
	assert.InDelta(t, 21, contrast(RGB(0), RGB(0xffffff)), 1e-9)
	assert.InDelta(t, 4.48, contrast(RGB(0x777777), RGB(0xffffff)), 0.005, "printed with two decimals")

	text := map[string][2]color.RGBA{
		"ink on paper": {Ink, Paper}, "muted on paper": {Muted, Paper}, "paper on seen": {Paper, Seen},
		"ink on a stream": {Ink, Stream}, "ink on a pale stream": {Ink, Past},
	}
	for i, l := range Series {
		text[fmt.Sprintf("label of line %d", i)] = [2]color.RGBA{l.Colour, Paper}
	}
	for what, pair := range text {
		assert.GreaterOrEqual(t, contrast(pair[0], pair[1]), 4.5, what)
	}
	for what, pair := range map[string][2]color.RGBA{
		"seen beside passed unseen": {Seen, Unseen}, "passed unseen on paper": {Unseen, Paper},
		"seen on paper": {Seen, Paper}, "whisker on passed unseen": {Ink, Unseen},
		"outline of those on the way": {Seen, Away}, "edge of a stream": {Seen, Stream},
		"axis": {Muted, Paper},
	} {
		assert.GreaterOrEqual(t, contrast(pair[0], pair[1]), 3.0, what)
	}
}

// On a dark page every colour has one of its own, and what must contrast on
// paper does there.
func TestDarkContrast(t *testing.T) {
	in := func(c color.RGBA) color.RGBA {
		d, ok := Dark[c]
		require.True(t, ok, "%v stays as it is on a dark page", c)
		return d
	}
	pairs := [][2]color.RGBA{{Ink, Paper}, {Muted, Paper}, {Paper, Seen}, {Ink, Stream}, {Ink, Past}, {Wanted, Paper}}
	for _, l := range Series {
		pairs = append(pairs, [2]color.RGBA{l.Colour, Paper})
	}
	for _, p := range pairs {
		assert.GreaterOrEqual(t, contrast(in(p[0]), in(p[1])), 4.5, "%v on %v", p[0], p[1])
	}
	for _, p := range [][2]color.RGBA{{Seen, Unseen}, {Unseen, Paper}, {Seen, Paper}, {Ink, Unseen}, {Seen, Away}, {Seen, Stream}, {Muted, Paper}} {
		assert.GreaterOrEqual(t, contrast(in(p[0]), in(p[1])), 3.0, "%v beside %v", p[0], p[1])
	}
}

// Lines are told apart without colour: no two share a dash or a shape.
func TestLooksDiffer(t *testing.T) {
	for i, a := range Series {
		for j, b := range Series[:i] {
			assert.NotEqual(t, a.Dash, b.Dash, "%d %d", i, j)
			assert.NotEqual(t, a.Shape, b.Shape, "%d %d", i, j)
			assert.NotEqual(t, a.Colour, b.Colour, "%d %d", i, j)
		}
	}
}

// contrast is the contrast ratio of two colours, 1 to 21 (WCAG 2.2).
func contrast(a, b color.RGBA) float64 {
	x, y := luminance(a), luminance(b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

// luminance is the relative luminance of a colour, 0 to 1 (WCAG 2.2).
func luminance(c color.RGBA) float64 {
	linear := func(v uint8) float64 {
		x := float64(v) / 255
		if x <= 0.04045 {
			return x / 12.92
		}
		return math.Pow((x+0.055)/1.055, 2.4)
	}
	return 0.2126*linear(c.R) + 0.7152*linear(c.G) + 0.0722*linear(c.B)
}
