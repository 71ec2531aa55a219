package view

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"example.org/unseen/history"
)

// Digits shows a number with that many decimals and thousands separated by
// commas and the minus sign of texts; "–" when it does not exist. A number that would be shown as 0 but is
// not is "<0.001" (with that many decimals), whatever its sign; with decimals, one of
// ten million and more is shown by its power of ten: "7.3e12".
func Digits(x float64, digits int) string {
	switch {
	case math.IsNaN(x):
		return "–"
	case math.IsInf(x, 1):
		return "∞"
	case math.IsInf(x, -1):
		return "−∞"
	}
	if digits > 0 && math.Abs(x) >= 1e7 {
		return history.Thousands(strings.Replace(strings.Replace(strconv.FormatFloat(x, 'e', 1, 64), "e+0", "e", 1), "e+", "e", 1))
	}
	s := strconv.FormatFloat(x, 'f', digits, 64)
	if strings.Trim(s, "-0.") == "" && x != 0 {
		return "<" + strconv.FormatFloat(math.Pow10(-digits), 'f', digits, 64)
	}
	if x == 0 {
		s = strings.TrimPrefix(s, "-") // of a zero the sign means nothing
	}
	return history.Thousands(s)
}

// Signed shows what is added, with its sign where a digit shows it; what is nearer
// to 0 than a thousandth of the last digit is rounding of the fits.
func Signed(x float64, digits int) string {
	if math.Abs(x) < math.Pow10(-digits-3) {
		x = 0
	}
	s := Digits(x, digits)
	if x > 0 && s[0] != '<' {
		return "+" + s
	}
	return s
}

// Percent shows a share as a percentage in running text: "43.1 %".
func Percent(share float64, digits int) string { return Digits(100*share, digits) + " %" }

// moreDigits is how many decimals more the ends of an interval get that would
// be shown alike; nearer ones count as one.
const moreDigits = 4

// Ends shows the two ends of an interval: with more decimals where they would
// be shown alike, unless both are nearer to 0 than what is shown; both "" where
// the interval has no width.
func Ends(low, high float64, digits int) (string, string) {
	a, b := Digits(low, digits), Digits(high, digits)
	for more := 1; a == b && low != high && !strings.HasPrefix(a, "<") && more <= moreDigits; more++ {
		a, b = Digits(low, digits+more), Digits(high, digits+more)
	}
	if a == b && !strings.HasPrefix(a, "<") {
		return "", ""
	}
	return a, b
}

// Span shows an interval in running text: "40.2–46.0"; "up to 46.0" or "from
// 40.2" where its other end is not known, "<0.1" where both are below what is
// shown, and one number where it has no width.
func Span(low, high float64, digits int) string {
	a, b := Ends(low, high, digits)
	switch {
	case math.IsNaN(low) && math.IsNaN(high):
		return "–"
	case math.IsNaN(low):
		return "up to " + b
	case math.IsNaN(high):
		return "from " + a
	case strings.HasPrefix(b, "<") && high > 0 && low >= 0:
		return b
	case a == b && a != "":
		return a // both nearer to 0 than what is shown
	case a == b:
		return Digits(low, digits)
	}
	return a + "–" + b
}

// Bracket is the interval that follows its value, with the unit: " (40.2–46.0 %)";
// "" where nothing is known of it, or where it has no width.
func Bracket(low, high float64, digits int, unit string) string {
	if a, b := Ends(low, high, digits); a == "" && b == "" || math.IsNaN(low) && math.IsNaN(high) {
		return ""
	}
	return " (" + Span(low, high, digits) + unit + ")"
}

// PercentSpan shows a share with its interval as percentages in running text:
// "43.1 % (40.2–46.0 %)".
func PercentSpan(share, low, high float64, digits int) string {
	return Percent(share, digits) + Bracket(100*low, 100*high, digits, " %")
}

// Plural counts things: "1 fish", "3 records". The plural is the singular with
// "s" unless another is given.
func Plural[T int | int64](n T, one string, many ...string) string {
	word := one
	if n != 1 {
		word = one + "s"
		if len(many) > 0 {
			word = many[0]
		}
	}
	return history.Say("%v %s", n, word)
}

// And joins words: "a", "a and b", "a, b and c".
func And(words []string) string {
	switch n := len(words); n {
	case 0:
		return ""
	case 1:
		return words[0]
	default:
		return strings.Join(words[:n-1], ", ") + " and " + words[n-1]
	}
}

// fileEnd is the end of the name of a file.
var fileEnd = regexp.MustCompile(`\.[a-z]{2,4}(\.gz|\.zst)?$`)

// Sentence begins s with a capital and ends it with a full stop.
func Sentence(s string) string {
	if s == "" {
		return s
	}
	if s = strings.TrimSuffix(s, "."); !strings.HasSuffix(s, "…") {
		s += "."
	}
	word, _, _ := strings.Cut(s, " ")
	before, _, colon := strings.Cut(s, ": ")
	if strings.ContainsAny(strings.TrimRight(word, ".,:;"), "._/") || colon && fileEnd.MatchString(before) {
		return s // the name of a file stays as it is
	}
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[n:]
}
