package study

import (
	"bytes"
	"encoding/json"
	"math"
	"strconv"
	"strings"
)

// Quote writes a text as a study file does, in double quotes. JSON's escapes
// are all TOML's, which wants one more.
func Quote(s string) string {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.Encode(s) // a string cannot fail
	return strings.ReplaceAll(strings.TrimSuffix(b.String(), "\n"), "\x7f", `\u007f`)
}

// FormatNumber writes a finite number as a study file does; −0 with its point,
// for the whole number has no sign.
func FormatNumber(x float64) string {
	if x == 0 && math.Signbit(x) {
		return "-0.0"
	}
	return strconv.FormatFloat(x, 'g', -1, 64)
}
