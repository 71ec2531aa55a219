package canvas

import (
	"fmt"
	"image/color"
	"maps"
	"slices"
	"strings"
)

// The colours. Those of areas that touch differ at least 3:1 in contrast, from
// each other and from the paper; those of text at least 4.5:1 (WCAG 2.2, success
// criteria 1.4.11 and 1.4.3). On a dark page each is shown as its [Dark].
var (
	Paper = RGB(0xffffff)
	Ink   = RGB(0x1b232b)
	Muted = RGB(0x56616b) // text of lesser weight, axes
	Grid  = RGB(0xdde3e7) // no meaning rests on it

	Seen   = RGB(0x0f4a61) // fish seen
	Unseen = RGB(0x579cb5) // fish that passed unseen
	Away   = RGB(0xe3eff3) // fish still on their way: outlined
	Band   = RGB(0xd7e4ea) // uncertainty behind an edge of its own line
	Outage = RGB(0xefe3d8) // days on which nobody looked
	Wanted = RGB(0xa8480f) // what is asked for

	Stream = RGB(0xb9d3dd) // fish on their way
	Past   = Away          // fish past the last site
	Loss   = RGB(0xe9e6e1) // fish not seen again
)

// Dark is what each colour becomes on a dark page.
var Dark = map[color.RGBA]color.RGBA{
	Paper:         RGB(0x141a1f),
	Ink:           RGB(0xe8edf1),
	Muted:         RGB(0xaab6c0),
	Grid:          RGB(0x2f3941),
	Seen:          RGB(0xb4e3f4),
	Unseen:        RGB(0x3c7f9a),
	Away:          RGB(0x1d2c34),
	Band:          RGB(0x24363f),
	Outage:        RGB(0x3a2d22),
	RGB(0xa8480f): RGB(0xf09a62),
	RGB(0x35748f): RGB(0x6db4d1),
	RGB(0x14181c): RGB(0xf2f5f7),
	RGB(0x7f6d27): RGB(0xd0ba63),
	RGB(0x6b4a8c): RGB(0xbb9ddb),
	Stream:        RGB(0x2b4f5e),
	Loss:          RGB(0x34322e),
}

// DarkStyle are the rules that turn figures in a page dark: the classes that
// [Scene.SVG] gives to what it fills and strokes.
func DarkStyle() string {
	var b strings.Builder
	for _, c := range slices.SortedFunc(maps.Keys(Dark), func(a, b color.RGBA) int { return strings.Compare(hex(a), hex(b)) }) {
		fmt.Fprintf(&b, ".%s{fill:%s}.%s{stroke:%s}\n", class('f', c), hex(Dark[c]), class('s', c), hex(Dark[c]))
	}
	return b.String()
}

func hex(c color.RGBA) string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }

// class names a fill or a stroke of a colour.
func class(what byte, c color.RGBA) string { return string(what) + hex(c)[1:] }

// Shape is the form of a point.
type Shape uint8

// Look is how a line and its points are told from others.
type Look struct {
	Colour color.RGBA
	Dash   []float64
	Shape  Shape
}

// Sizes of text and lines in CSS pixels.
const (
	TextSize  = 13
	SmallSize = 12
	Leading   = 17
	Hairline  = 1
	LineWidth = 2
)

// RGB is the colour 0xrrggbb.
func RGB(x uint32) color.RGBA {
	return color.RGBA{uint8(x >> 16), uint8(x >> 8), uint8(x), 0xff}
}
