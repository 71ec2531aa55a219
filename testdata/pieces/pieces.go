// Package pieces composes inputs for tests out of pieces that readers of files
// stumble over: every sort of blank, quotes, signs of a formula, numbers and
// dates at the ends of what can be said, bytes that are no text. Turning over
// bits finds such inputs by luck only.
package pieces

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"regexp"
	"strings"
	"testing"
	"time"
)

var (
	times = flag.Int("composed", 1, "how many times as many inputs each test composes")
	seed  = flag.Uint64("composed-seed", 1, "what the composed inputs are drawn from")
)

// Each has n inputs composed and checked, or the flag -composed times as many.
// It logs which input failed, and those that took more than a second; a minute
// is a failure.
func Each(t *testing.T, n int, check func(c *Composer)) { each(t, n*(*times), check) }

func each(t *testing.T, n int, check func(c *Composer)) {
	for i := range n {
		one(t, *seed, uint64(i), check)
	}
}

func one(t *testing.T, seed, i uint64, check func(c *Composer)) {
	c := &Composer{Rand: rand.New(rand.NewPCG(seed, i))}
	begun, done := time.Now(), false
	defer func() {
		took := time.Since(begun)
		if !done || took > time.Second {
			t.Logf("input %d of seed %d, after %v: %s", i, seed, took, strings.Join(c.made, "\nand "))
		}
		if took > time.Minute {
			t.Error("so long a time is a fault")
		}
	}()
	check(c)
	done = !t.Failed()
}

// Fuzz is the body of a fuzz target: check is fed what Go makes of the texts.
func Fuzz[T ~[]byte | ~string](f *testing.F, check func(t *testing.T, input T), texts ...string) {
	for _, s := range texts {
		f.Add(T(s))
	}
	f.Fuzz(func(t *testing.T, input T) {
		defer Hurry()()
		check(t, input)
	})
}

// Hurry ends the program unless the function that it gives is called in time: Go
// does not tell an input that takes for ever from one that is sound.
func Hurry() (done func()) {
	timer := time.AfterFunc(8*time.Second, func() { panic("an input takes more than eight seconds") })
	return func() { timer.Stop() }
}

// Texts has n inputs composed of the texts, and some long ones, and checked.
func Texts[T ~[]byte | ~string](t *testing.T, n int, check func(t *testing.T, input T), texts ...string) {
	Each(t, n, func(c *Composer) { check(t, T(c.Text(texts...))) })
	each(t, 2+*times/20, func(c *Composer) { check(t, T(c.Long(texts...))) })
}

// Composer draws inputs.
type Composer struct {
	*rand.Rand
	made []string
}

func (c *Composer) keep(s string) string {
	shown := fmt.Sprintf("%.2000q", s)
	c.made = append(c.made, fmt.Sprintf("(%d bytes) %s", len(s), shown))
	return s
}

// all are the pieces, in kinds that are drawn equally often.
var all = [][]string{
	{"", " ", "\t", "\n", "\r", "\r\n", "\n\n", "\v", "\f", "\u0085", "\u00a0", "\u1680", "\u2003", "\u2028", "\u2029", "\u202f", "\u3000", "\ufeff", "\u200b", "\u180e", "\x1c", "\x1f"},
	{`"`, `""`, `"""`, `'`, `''`, `'''`, "`", `\`, `\"`, `="`, `"a`, `a"`, `"a"`, `"a""b"`, `" a "`, ` "a" `, `="012"`, "\"\n\"", "\"\r\n", "'a'", "\u201ca\u201d"},
	{"=", "+", "-", "@", "=1", "'=1", "''=x", "=1+1", "-5", "'-5", "'+", "-1,5", "=\"a\"", "'=\"a\"", "\t=1", "'\t=1", "-x", "'@", "'\r="},
	{"\x00", "\x01", "\x1f", "\x7f", "\x80", "\x85", "\xa0", "\xe9", "\xff", "\xc3", "\xe2\x80", "\xed\xa0\x80", "\xf4\x90\x80\x80", "\xc0\x80", "\xef\xbb\xbf", "\xff\xfe", "\xfe\xff", "\xff\xfe\x00\x00", "\x1f\x8b", "PK\x03\x04", "\x28\xb5\x2f\xfd", "\xd0\xcf\x11\xe0", "\ufffd", "\ufffe", "\uffff", "a\x00b\x00"},
	{",", ";", "\t", "|", ",,", ";;", ":", ".", "/", "#", "+-", "±", "%", "[", "]", "[[", "]]", "{", "}", "(", ")", "<", ">", "&", "&amp;", "&#0;", "&#10;", "_x000D_", "_x", "*", "?", "~", "–"},
	{"0", "-0", "1", "2", "01", "1.5", "1,5", "1.234,5", "1,234.5", "1e5", "1E400", "1e-400", "-1e300", "1e", "e1", "0x1p-2", "0x1F", "0b1", "1_000", "inf", "+inf", "-Infinity", "nan", "NaN", "NA", "N/A", "null", "9007199254740993", "9223372036854775807", "9223372036854775808", "-9223372036854775809", "18446744073709551616", "99999999999999999999999999", "\u0661\u0662", "\uff11", "½", "∞", ".5", "5.", ".", "+5", "--5", "50%", "0.1", "1e-300", "4294967296", "65536", "1 000", "1'000", "1\u00a0000"},
	{"985141421300001", "985141421300001.0", "9.85141421300001E+14", "9.85E+14", "9,85E+14", "3D9.20ED5EA4CD", "3d9.20ed5ea4cd", "3D920ED5EA4CD", "8000F660ED5EA4CD", "8000F660ED5EA4CC", "040-000000000007", "985 141421300001", "0985141421300001", "999999999999999", "384.00000000E1", "1E5", "LA985141421300001", "3D9.2OED5EA4CD", "0x3D9"},
	{"0000-01-01", "0001-01-01", "9999-12-31T23:59:59", "1950-01-01", "2099-12-31", "2025-02-29", "2024-02-29", "2025-13-01", "2025-04-31", "2025-00-10", "2025-4-5", "2025-04-05T10:00:00Z", "2025-04-05 10:00:00", "2025-04-05 10:00", "2025-12-31 23:59:60", "2025-04-05 24:00", "2025-03-30 01:30:00", "2025-10-26 01:30:00", "5/4/2025", "05.04.2025 10:00", "31/12/99", "3-May-2025", "3 mai 2025", "May 3, 2025", "20250405", "202504051000", "45780.5", "45780,5", "60", "59.999999999", "1746245106", "1746245106000", "-1", "0.5", "1.0E9"},
	{"10:00", "24:00", "24:00:00", "23:59:60", "00:00", "7:5", "12:00 AM", "12 PM", "12:30 pm", "1:00:00.123456789", "1:00:00,5", "T", "Z", "+01:00", "+0100", "-00:00", "+14:00", "+25:00", " GMT", " UTC", "a.m."},
	{"İ", "ı", "ß", "ẞ", "ſ", "\u212a", "ﬁ", "é", "e\u0301", "Σς", "川", "🐟", "\u0301", "\u202e", "\u00ad", "Ǆ", "ŉ", "TAG", "Tag", "tag ", "tag", "name", "true", "false", "A", "b", "x y"},
	{"# x", "\n# x\n", "\n[a]\n", "\n[[a]]\n", "\n[a.b]\n", "a = 1\n", "a.b = 1", `"a.b" = 1`, "'a' = 1", "\"\" = 1", "{ x = 1 }", "{}", "[]", "[1, 2]", "[\n1, # x\n]", "[[1], ['x']]", `"\u0000"`, `"\ud800"`, `"\U0010ffff"`, "'''\na'''", `"""a"""`, "\"\"\"\\\n  a\"\"\"", "1979-05-27", "1979-05-27T07:32:00Z", "1979-05-27 07:32:00.999999999", "07:32:00", "1979-05-27T07:32:60Z", "= ", "\n\n\n"},
	{" + ", " by ", " of ", " at ", "same", "reach", "by", "of", "±", "+/-", " - ", "per km", "each cohort", "to"},
}

func (c *Composer) piece() string {
	kind := all[c.IntN(len(all))]
	return kind[c.IntN(len(kind))]
}

// tokens are the words, numbers and signs of a text, which together are the text.
var tokens = regexp.MustCompile(`[\pL_]+|[0-9]+|\n|.`)

// Text is one of the texts given, with some of its words, numbers and signs
// replaced by pieces or by each other, doubled, or left out.
func (c *Composer) Text(texts ...string) string {
	parts := tokens.FindAllString(texts[c.IntN(len(texts))], -1)
	for range 1 + c.few() {
		if len(parts) == 0 {
			parts = []string{c.piece()}
		}
		i := c.IntN(len(parts))
		switch c.IntN(12) {
		case 0, 1, 2, 3:
			parts[i] = c.piece()
		case 4, 5, 6:
			parts[i] += c.piece()
		case 7:
			parts[i] = parts[c.IntN(len(parts))]
		case 8:
			parts[i] = ""
		case 9:
			parts[i] = strings.Repeat(parts[i], 2+c.few())
		case 10: // a run of it stands twice, as of a line or a section
			k := min(i+1+c.IntN(30), len(parts))
			parts[i] += strings.Join(parts[i:k], "")
		case 11:
			from := tokens.FindAllString(texts[c.IntN(len(texts))], -1)
			if k := c.IntN(1 + len(from)); k < len(from) {
				parts[i] += strings.Join(from[k:min(k+1+c.few()*4, len(from))], "")
			}
		}
	}
	return c.keep(c.whole(strings.Join(parts, "")))
}

// Long is one of the texts given with a run of its words, numbers and signs, or
// of pieces, again and again, to a megabyte.
func (c *Composer) Long(texts ...string) string {
	parts := tokens.FindAllString(texts[c.IntN(len(texts))], -1)
	from := c.IntN(len(parts) + 1)
	to := min(from+c.few()*c.few(), len(parts))
	run := strings.Join(parts[from:to], "")
	for range c.IntN(3) {
		run += c.piece()
	}
	long := strings.Repeat(run, (1<<20)/max(1, len(run)))
	return c.keep(strings.Join(parts[:from], "") + long + strings.Join(parts[from:], ""))
}

// few is a small number, most often 0 to 3.
func (c *Composer) few() int {
	n := 0
	for n < 12 && c.IntN(5) > 1 {
		n++
	}
	return n
}

// whole changes a text as a whole: the ends of its lines, its mark, how it ends.
func (c *Composer) whole(text string) string {
	switch c.IntN(20) {
	case 0:
		return strings.ReplaceAll(text, "\n", "\r\n")
	case 1:
		return strings.ReplaceAll(text, "\n", "\r")
	case 2:
		return "\ufeff" + text
	case 3:
		return strings.TrimRight(text, "\r\n")
	case 4:
		return c.damaged(text)
	case 5:
		return text + c.piece()
	case 6:
		return c.piece() + text
	}
	return text
}

// Damaged is a file cut off, or with one bit turned over.
func (c *Composer) Damaged(file string) string { return c.keep(c.damaged(file)) }

func (c *Composer) damaged(file string) string {
	if file == "" {
		return file
	}
	b := []byte(file)
	if i := c.IntN(len(b)); c.IntN(2) == 0 {
		b = b[:i]
	} else {
		b[i] ^= 1 << c.IntN(8)
	}
	return string(b)
}

// Cells are rows of cells of pieces, parted by delimiter.
func (c *Composer) Cells(delimiter string) string {
	var b strings.Builder
	columns := 1 + c.few()
	for r := range 1 + c.few() {
		if r > 0 {
			b.WriteByte('\n')
		}
		n := columns
		if c.IntN(6) == 0 {
			n = max(0, n+c.IntN(5)-2)
		}
		for i := range n {
			if i > 0 {
				b.WriteString(delimiter)
			}
			for range 1 + c.few()/3 {
				b.WriteString(c.piece())
			}
		}
	}
	return c.keep(c.whole(b.String()))
}
