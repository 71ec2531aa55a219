package tagcode

import (
	"bytes"
	"slices"
)

// AppendJoined appends a code whose country or manufacturer and identification
// stood in two columns, decimal or hexadecimal, noughts in front perhaps dropped,
// as [Parse] reads it. What cannot be a code is appended as it is.
func AppendJoined(buf, country, number []byte) []byte {
	a, b := part(country), part(number)
	letters := func(p []byte) bool {
		return slices.ContainsFunc(p, func(c byte) bool { return c > '9' && hexValue[c] < 16 })
	}
	if len(a) == 0 || len(b) == 0 {
		return append(append(buf, a...), b...)
	}
	value, isHex := hexDigits(a)
	hex := letters(a) || letters(b) || len(a) == 3 && len(b) == 10 && isHex && value <= LargestCountry
	switch {
	case hex && len(a) <= 3 && len(b) <= 10:
		return padded(append(padded(buf, a, 3), '.'), b, 10)
	case !hex && len(a) <= 3 && len(b) <= 12:
		return padded(padded(buf, a, 3), b, 12)
	}
	return append(append(append(buf, a...), ' '), b...)
}

// part is half a code without what may stand around it.
func part(p []byte) []byte { return strip(string(bytes.TrimSuffix(bytes.TrimSpace(p), []byte(".0")))) }

// padded appends p with noughts in front.
func padded(buf, p []byte, n int) []byte {
	for range n - len(p) {
		buf = append(buf, '0')
	}
	return append(buf, p...)
}
