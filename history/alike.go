package history

import (
	"slices"
	"strings"
	"unicode"

	"github.com/agnivade/levenshtein"
	"golang.org/x/text/unicode/norm"
)

// letters that are no plain letter with a sign, as they are written without them.
var plainLetters = strings.NewReplacer("ø", "o", "đ", "d", "ð", "d", "ł", "l", "ı", "i", "æ", "ae", "œ", "oe", "ß", "ss", "þ", "th")

// plainWords are the words of a name in small letters without accents: runs of
// letters, and runs of digits.
func plainWords(name string) (words []string) {
	last := 0
	for _, r := range plainLetters.Replace(strings.ToLower(norm.NFD.String(name))) {
		kind := 0
		switch {
		case unicode.Is(unicode.Mn, r):
			continue
		case unicode.IsLetter(r):
			kind = 1
		case unicode.IsDigit(r):
			kind = 2
		}
		if kind > 0 && kind != last {
			words = append(words, "")
		}
		if last = kind; kind > 0 {
			words[len(words)-1] += string(r)
		}
	}
	return words
}

// SameSpelling tells whether two names differ in no more than capitals, accents,
// blanks and other signs that are neither letter nor digit.
func SameSpelling(a, b string) bool {
	x, y := strings.Join(plainWords(a), ""), strings.Join(plainWords(b), "")
	return x != "" && x == y
}

// Alike tells whether two names are most likely one, written differently: of the
// [SameSpelling], or with a slip in one word: a letter of five or more, or two
// neighbours of four or more. Another number, or another first or last letter, makes
// another name.
func Alike(a, b string) bool {
	if SameSpelling(a, b) {
		return true
	}
	x, y := plainWords(a), plainWords(b)
	if len(x) != len(y) {
		return false
	}
	at := -1
	for i := range x {
		if x[i] != y[i] {
			if at >= 0 {
				return false
			}
			at = i
		}
	}
	return at >= 0 && slip(x[at], y[at])
}

// slip tells whether two words differ as one does from the other with a letter too
// many, another one inside, or two neighbours changed over.
func slip(a, b string) bool {
	x, y := []rune(a), []rune(b)
	if len(x) < 4 || len(y) < 4 || !unicode.IsLetter(x[0]) || x[0] != y[0] {
		return false
	}
	if len(x) != len(y) {
		return min(len(x), len(y)) >= 5 && levenshtein.ComputeDistance(a, b) == 1
	}
	var off []int
	for i := range x {
		if x[i] != y[i] {
			off = append(off, i)
		}
	}
	switch len(off) {
	case 1:
		return len(x) >= 5 && off[0] < len(x)-1
	case 2:
		i, j := off[0], off[1]
		return j == i+1 && x[i] == y[j] && x[j] == y[i]
	}
	return false
}

// FirstAlike is the first of the names that is [Alike] a name and not the same; ""
// if none. One of the same spelling comes before others.
func FirstAlike(name string, names []string) string {
	for _, alike := range []func(a, b string) bool{SameSpelling, Alike} {
		if i := slices.IndexFunc(names, func(n string) bool { return n != name && alike(n, name) }); i >= 0 {
			return names[i]
		}
	}
	return ""
}
