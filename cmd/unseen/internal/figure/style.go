package figure

import (
	"fmt"
	"image/color"
	"maps"
	"math"
	"slices"
	"strings"
)

// The colours. Those of areas that touch differ at least 3:1 in contrast, from
// each other and from the paper; those of text at least 4.5:1 (WCAG 2.2, success
// criteria 1.4.11 and 1.4.3). On a dark page each is shown as its [dark].
var (
	paper = rgb(0xffffff)
	ink   = rgb(0x1b232b)
	muted = rgb(0x56616b) // text of lesser weight, axes
	grid  = rgb(0xdde3e7) // no meaning rests on it

	seenFill   = rgb(0x0f4a61) // fish seen
	unseenFill = rgb(0x579cb5) // fish that passed unseen
	awayFill   = rgb(0xe3eff3) // fish still on their way: outlined
	band       = rgb(0xd7e4ea) // uncertainty behind an edge of its own line
	outage     = rgb(0xefe3d8) // days on which nobody looked
	wishLine   = rgb(0xa8480f) // what is asked for
)

// series are the looks of lines and points that must be told apart: each has
// its own lightness, dash and shape. Shapes are filled: an outline alone says
// what an estimate is worth.
var series = []look{
	{rgb(0x0f4a61), nil, disc},
	{rgb(0xa8480f), []float64{7, 3}, square},
	{rgb(0x35748f), []float64{2, 3}, triangle},
	{rgb(0x14181c), []float64{9, 3, 2, 3}, diamond},
	{rgb(0x7f6d27), []float64{4, 2}, wedge},
	{rgb(0x6b4a8c), []float64{12, 4}, tall},
}

// dark is what each colour becomes on a dark page.
var dark = map[color.RGBA]color.RGBA{
	paper:         rgb(0x141a1f),
	ink:           rgb(0xe8edf1),
	muted:         rgb(0xaab6c0),
	grid:          rgb(0x2f3941),
	seenFill:      rgb(0xb4e3f4),
	unseenFill:    rgb(0x3c7f9a),
	awayFill:      rgb(0x1d2c34),
	band:          rgb(0x24363f),
	outage:        rgb(0x3a2d22),
	rgb(0xa8480f): rgb(0xf09a62),
	rgb(0x35748f): rgb(0x6db4d1),
	rgb(0x14181c): rgb(0xf2f5f7),
	rgb(0x7f6d27): rgb(0xd0ba63),
	rgb(0x6b4a8c): rgb(0xbb9ddb),
	streamFill:    rgb(0x2b4f5e),
	loss:          rgb(0x34322e),
}

// DarkStyle are the rules that turn figures in a page dark: the classes that
// [Figure.SVG] gives to what it fills and strokes.
func DarkStyle() string {
	var b strings.Builder
	for _, c := range slices.SortedFunc(maps.Keys(dark), func(a, b color.RGBA) int { return strings.Compare(hex(a), hex(b)) }) {
		fmt.Fprintf(&b, ".%s{fill:%s}.%s{stroke:%s}\n", class('f', c), hex(dark[c]), class('s', c), hex(dark[c]))
	}
	return b.String()
}

// class names a fill or a stroke of a colour.
func class(what byte, c color.RGBA) string { return string(what) + hex(c)[1:] }

type look struct {
	colour color.RGBA
	dash   []float64
	shape  shape
}

func lookOf(i int) look { return series[i%len(series)] }

// Sizes of text and lines in CSS pixels.
const (
	textSize  = 13
	smallSize = 12
	leading   = 17
	hairline  = 1
	lineWidth = 2
)

func rgb(x uint32) color.RGBA {
	return color.RGBA{uint8(x >> 16), uint8(x >> 8), uint8(x), 0xff}
}

// Contrast is the contrast ratio of two colours, 1 to 21 (WCAG 2.2).
func Contrast(a, b color.RGBA) float64 {
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
