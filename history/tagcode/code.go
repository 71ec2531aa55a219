// Package tagcode reads the codes of PIT tags.
//
// A code of ISO 11784 is a ten-bit country or manufacturer number and a
// 38-bit identification. It is written as 15 decimal digits (three and
// twelve), or as 3 and 10 hexadecimal digits, or as the whole 64-bit word in
// 16 hexadecimal digits; all of them are one [Code].
//
// Begin with [Parse]; ExampleParse shows it.
package tagcode

import (
	"encoding/binary"
	"fmt"
	"math/bits"
	"strconv"
	"strings"
	"unicode/utf8"
)

const (
	// LargestIdentification is the largest 38-bit identification.
	LargestIdentification = 1<<38 - 1
	// LargestCountry is the largest country or manufacturer number that the
	// three decimal digits can show.
	LargestCountry = 999
	// TestCountry is the number set apart for test tags (common practice).
	TestCountry = 999

	billions = 1_000_000_000_000 // identifications stand below this in the decimal form
)

// Code is an ISO 11784 code, held as the number its 15 decimal digits make.
// It is never 0: an all-zero reading is a reader's empty answer, no tag.
type Code uint64

// Make joins a country or manufacturer number and an identification. It
// returns an error where one of them cannot be.
func Make(country, identification uint64) (Code, error) {
	switch {
	case country > LargestCountry:
		return 0, fmt.Errorf("country or manufacturer %d is impossible: the largest is %d", country, LargestCountry)
	case identification > LargestIdentification:
		return 0, fmt.Errorf("identification %d is impossible: the largest is %d", identification, uint64(LargestIdentification))
	case country == 0 && identification == 0:
		return 0, fmt.Errorf("all zeros is an empty reading, not a tag")
	}
	return Code(country*billions + identification), nil
}

// Country is the country (below 900) or manufacturer number.
func (c Code) Country() int { return int(c / billions) }

// Identification is the 38-bit identification.
func (c Code) Identification() uint64 { return uint64(c % billions) }

// String is the code's 15 decimal digits.
func (c Code) String() string { return string(c.Append(make([]byte, 0, 15))) }

// Append appends the code's 15 decimal digits.
func (c Code) Append(b []byte) []byte {
	var d [15]byte
	n := uint64(c)
	for i := len(d) - 1; i >= 0; i-- {
		d[i] = '0' + byte(n%10)
		n /= 10
	}
	return append(b, d[:]...)
}

// Hex is the code as 3 and 10 hexadecimal digits with a dot.
func (c Code) Hex() string { return fmt.Sprintf("%03X.%010X", c.Country(), c.Identification()) }

// Word is the 64-bit word of an animal's tag, first bit highest.
func (c Code) Word() uint64 {
	return 1<<63 | uint64(c.Country())<<38 | c.Identification()
}

// Decode reads the two plain forms, 15 decimal digits or 3 and 10 hexadecimal
// digits with one byte between them, without allocating. Whatever else there
// may be, right or wrong, is left to [Parse]: ok is false.
func Decode(b []byte) (c Code, ok bool) {
	switch len(b) {
	case 15:
		hi, ok1 := eightDigits(binary.LittleEndian.Uint64(b))
		lo, ok2 := eightDigits(binary.LittleEndian.Uint64(b[7:]))
		if !ok1 || !ok2 {
			return 0, false
		}
		// The two loads share the eighth digit.
		n := hi*10_000_000 + lo - uint64(b[7]-'0')*10_000_000
		if n%billions > LargestIdentification || n == 0 {
			return 0, false
		}
		return Code(n), true
	case 14:
		if !isBetween(b[3]) {
			return 0, false
		}
		country, ok1 := hexDigits(b[:3])
		id, ok2 := hexDigits(b[4:])
		if !ok1 || !ok2 || country > LargestCountry || id > LargestIdentification || country|id == 0 {
			return 0, false
		}
		return Code(country*billions + id), true
	}
	return 0, false
}

// eightDigits reads eight ASCII digits, first digit in the lowest byte.
func eightDigits(v uint64) (uint64, bool) {
	// A digit has the high nibble 3 and stays so after adding 6.
	const nibbles, threes, sixes = 0xF0F0F0F0F0F0F0F0, 0x3030303030303030, 0x0606060606060606
	if v&nibbles != threes || (v+sixes)&nibbles != threes {
		return 0, false
	}
	v -= threes
	v = v*10 + v>>8
	v = ((v&0x000000FF000000FF)*(100+1_000_000<<32) + (v>>16&0x000000FF000000FF)*(1+10_000<<32)) >> 32
	return v, true
}

func hexDigits(b []byte) (n uint64, ok bool) {
	for _, c := range b {
		d := hexValue[c]
		if d > 15 {
			return 0, false
		}
		n = n<<4 | uint64(d)
	}
	return n, true
}

var hexValue = func() (t [256]uint8) {
	for i := range t {
		t[i] = 255
	}
	for i := range 10 {
		t['0'+i] = uint8(i)
	}
	for i := range 6 {
		t['a'+i], t['A'+i] = uint8(10+i), uint8(10+i)
	}
	return t
}()

// isBetween tells what may stand between the 3 and the 10 hexadecimal digits: any
// sign, whatever a reader prints.
func isBetween(c byte) bool {
	return c >= ' ' && c < 0x7F && hexValue[c|0x20] > 15 && (c|0x20 < 'a' || c|0x20 > 'z') && c != '"' && (c < '0' || c > '9')
}

func isSeparator(c byte) bool {
	return c == '.' || c == ' ' || c == ':' || c == '-' || c == '\t' || c == '_'
}

// fromWord reads a 64-bit word, first bit highest.
func fromWord(w uint64) (Code, error) {
	if w>>63 == 0 {
		if r := bits.Reverse64(w); r>>63 == 1 && r>>48&0x7FFE == 0 {
			return 0, fmt.Errorf("the 64-bit word looks bit-reversed; if the reader prints it so, set bit_reversed = true under [sightings]")
		}
		return 0, fmt.Errorf("the first bit of the 64-bit word is 0: not an animal's tag")
	}
	// A code mistyped with sixteen digits would pass for a word, were the
	// reserved bits not looked at.
	if w>>48&0x7FFE != 0 {
		return 0, fmt.Errorf("16 characters are a 64-bit word, which starts with 8000 or 8001")
	}
	return Make(w>>38&1023, w&LargestIdentification)
}

// Reversed is [Parse] for a reader that prints the 64-bit word with its bits
// in the reverse order. Forms other than the 16-digit word are read as usual.
func Reversed(s string) (Code, error) {
	if p := strip(s); len(p) == 16 {
		if w, ok := hexDigits(p); ok {
			w = bits.Reverse64(w)
			if w>>63 == 0 {
				return 0, fmt.Errorf("the word with its bits turned round starts with 0: not an animal's tag, or not bit-reversed")
			}
			return fromWord(w)
		}
	}
	return Parse(s)
}

// Parse reads a code in any of its forms: 15 decimal digits, 3 and 10
// hexadecimal digits, or the 64-bit word in 16; in either case, with blanks
// around and dots, blanks, colons, hyphens or underscores between. The error
// says why a code is refused and, where a spreadsheet has spoilt it, what to
// do. Thirteen characters that are all digits are the hexadecimal form.
func Parse(s string) (Code, error) {
	if len(s) <= 15 {
		var b [15]byte
		if c, ok := Decode(b[:copy(b[:], s)]); ok {
			return c, nil
		}
	}
	if n := len(s); n == 19 && s[3] == ',' && s[7] == ',' && s[11] == ',' && s[15] == ',' {
		s = strings.ReplaceAll(s, ",", "") // thousands
	} else if n > 15 && s[n-2:] == ",0" {
		s = s[:n-2] // a decimal
	}
	p := strip(s)
	if len(p) == 0 {
		return 0, fmt.Errorf("empty")
	}
	if (len(p) == 15 || len(p) == 18) && p[0] == '0' && p[1]|0x20 == 'x' {
		p = p[2:]
	}
	if len(p) == 14 && isBetween(p[3]) { // as Decode takes it, with blanks around
		p = append(p[:3:3], p[4:]...)
	}
	p, err := spreadsheet(s, p)
	if err != nil {
		return 0, err
	}
	decimal := true
	for i, c := range p {
		if hexValue[c] > 15 {
			sign, _ := utf8.DecodeRune(p[i:])
			return 0, fmt.Errorf("%q is no digit of a tag code (15 decimal digits, or 3 and 10 hexadecimal digits); if the tags are not of ISO 11784, set tag_form = \"text\" at the top of the study file", string(sign))
		}
		decimal = decimal && c <= '9'
	}
	if decimal && len(p) == 16 && p[15] == '0' && endsInPointZero(s) {
		p = p[:15] // a decimal code written as a number with one decimal
	}
	switch {
	case len(p) == 15 && decimal:
		n, err := strconv.ParseUint(string(p), 10, 64)
		if err != nil {
			return 0, err
		}
		return Make(n/billions, n%billions)
	case len(p) == 13:
		country, _ := hexDigits(p[:3])
		id, _ := hexDigits(p[3:])
		return Make(country, id)
	case len(p) == 16:
		w, _ := hexDigits(p)
		return fromWord(w)
	case decimal && (len(p) == 14 || len(p) == 12):
		return 0, fmt.Errorf("%d digits where 15 are expected: a spreadsheet may have dropped leading zeros; export the column as text", len(p))
	case decimal:
		return 0, fmt.Errorf("%d digits where 15 are expected", len(p))
	}
	return 0, fmt.Errorf("%d characters where 15 decimal digits, or 3 and 10 hexadecimal digits, are expected", len(p))
}

// strip takes out separators, blanks (also the narrow and no-break kinds) and
// apostrophes, which force text in a spreadsheet or part thousands.
func strip(s string) []byte {
	p := make([]byte, 0, len(s))
	for i := 0; i < len(s); i++ {
		c := s[i]
		switch {
		case isSeparator(c) || c == '\'':
		case c == 0xE2 && i+2 < len(s) && s[i+1] == 0x80 && (s[i+2] == 0x89 || s[i+2] == 0xAF):
			i += 2
		case c == 0xC2 && i+1 < len(s) && s[i+1] == 0xA0:
			i++
		default:
			p = append(p, c)
		}
	}
	return p
}

func endsInPointZero(s string) bool {
	n := len(s)
	for n > 0 && (s[n-1] == ' ' || s[n-1] == '\t') {
		n--
	}
	return n == 17 && s[n-2:n] == ".0"
}

// spreadsheet explains a code that a spreadsheet turned into a power of ten, and
// gives back the digits where all fifteen are still there. A whole hexadecimal
// code may hold one E between digits, so only what cannot be one is a power of
// ten.
func spreadsheet(s string, stripped []byte) ([]byte, error) {
	if len(stripped) == 13 || len(stripped) == 16 {
		if _, whole := hexDigits(stripped); whole {
			return stripped, nil
		}
	}
	i := 0
	next := func() byte {
		if i < len(s) {
			return s[i]
		}
		return 0
	}
	for next() == ' ' {
		i++
	}
	var digits []byte
	for c := next(); c >= '0' && c <= '9' || c == '.' || c == ','; c = next() {
		if c >= '0' {
			digits = append(digits, c)
		}
		i++
	}
	if len(digits) == 0 || next()|0x20 != 'e' {
		return stripped, nil
	}
	i++
	if c := next(); c == '+' || c == '-' {
		i++
	}
	from := i
	for c := next(); c >= '0' && c <= '9'; c = next() {
		i++
	}
	exponent := s[from:i]
	for next() == ' ' {
		i++
	}
	if exponent == "" || len(exponent) > 3 || i != len(s) {
		return stripped, nil
	}
	if len(digits) == 15 && exponent == "14" && s[from-1] != '-' {
		return digits, nil
	}
	return nil, fmt.Errorf("a spreadsheet has turned the tag code into a power of ten, and its last digits are lost; export it again with the tag column as text")
}
