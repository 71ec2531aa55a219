package history

import (
	"cmp"
	"strings"

	"github.com/agnivade/levenshtein"
)

// Nearest proposes the known word a mistyped one was most likely meant to be,
// or "" when none is close: at most a third of the letters changed, or two (a
// swap of neighbours) in words of three letters and more, case apart. The
// first of equally near words wins.
func Nearest(word string, known []string) string {
	n := len([]rune(word))
	best, distance := "", 1+max(min(2, n-1), n/3)
	for _, k := range known {
		d := levenshtein.ComputeDistance(strings.ToLower(word), strings.ToLower(k))
		if d < distance {
			best, distance = k, d
		}
	}
	return best
}

// Propose is [Nearest] as the end of a message: `; did you mean "x"?`, or "".
func Propose(word string, known []string) string {
	if n := Nearest(word, known); n != "" {
		return `; did you mean "` + n + `"?`
	}
	return ""
}

// NaturalCompare orders names as people do: runs of digits compare as
// numbers, so "2" stands before "10". It is a total order: 0 only for equal
// strings.
func NaturalCompare(a, b string) int {
	x, y := a, b
	for x != "" && y != "" {
		nx, ny := digits(x), digits(y)
		if nx > 0 && ny > 0 {
			p, q := strings.TrimLeft(x[:nx], "0"), strings.TrimLeft(y[:ny], "0")
			if c := cmp.Or(cmp.Compare(len(p), len(q)), cmp.Compare(p, q)); c != 0 {
				return c
			}
			x, y = x[nx:], y[ny:]
			continue
		}
		if x[0] != y[0] {
			return cmp.Compare(x[0], y[0])
		}
		x, y = x[1:], y[1:]
	}
	return cmp.Or(cmp.Compare(len(x), len(y)), cmp.Compare(a, b))
}

// digits is the length of the run of digits s starts with.
func digits(s string) int {
	n := 0
	for n < len(s) && s[n] >= '0' && s[n] <= '9' {
		n++
	}
	return n
}
