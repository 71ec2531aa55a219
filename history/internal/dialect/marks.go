package dialect

import (
	"encoding/binary"
	"math/bits"
	"slices"
)

const (
	sevens = 0x7F7F7F7F7F7F7F7F
	ones   = 0x0101010101010101
	// bringDown brings the lowest bit of each byte together in the highest byte
	// of the product, first byte lowest.
	bringDown = 0x0102040810204080
)

// Mark notes where the delimiters and line ends of a text stand, in order, in the
// memory of marks; the first mark stands for the end of a line before the text, so
// that a field stands between two marks. It looks at eight bytes at once and goes
// through sixty-four before it writes any down, so that it need not guess where
// the next one stands.
func Mark(marks []uint32, data []byte, delim byte) []uint32 {
	marks = append(marks[:0], beforeAll)
	delims, ends := ones*uint64(delim), ones*uint64('\n')
	at := 0
	for ; at+64 <= len(data); at += 64 {
		b := (*[64]byte)(data[at : at+64])
		found := eight(binary.LittleEndian.Uint64(b[0:]), delims, ends) |
			eight(binary.LittleEndian.Uint64(b[8:]), delims, ends)<<8 |
			eight(binary.LittleEndian.Uint64(b[16:]), delims, ends)<<16 |
			eight(binary.LittleEndian.Uint64(b[24:]), delims, ends)<<24 |
			eight(binary.LittleEndian.Uint64(b[32:]), delims, ends)<<32 |
			eight(binary.LittleEndian.Uint64(b[40:]), delims, ends)<<40 |
			eight(binary.LittleEndian.Uint64(b[48:]), delims, ends)<<48 |
			eight(binary.LittleEndian.Uint64(b[56:]), delims, ends)<<56
		n := bits.OnesCount64(found)
		if cap(marks)-len(marks) < 64 {
			marks = slices.Grow(marks, 64+cap(marks))
		}
		// Six are written whether there are as many or not: how many there
		// are cannot be foreseen, and a wrong guess costs more.
		to := (*[64]uint32)(marks[len(marks) : len(marks)+64])
		for i := range 6 {
			to[i] = uint32(at + bits.TrailingZeros64(found))
			found &= found - 1
		}
		for i := 6; found != 0; i++ {
			to[i&63] = uint32(at + bits.TrailingZeros64(found))
			found &= found - 1
		}
		marks = marks[:len(marks)+n]
	}
	for ; at < len(data); at++ {
		if c := data[at]; c == delim || c == '\n' {
			marks = append(marks, uint32(at))
		}
	}
	return marks
}

// eight has a bit for each of eight bytes, lowest first, that is one of the two.
func eight(x, delims, ends uint64) uint64 {
	d, e := x^delims, x^ends
	// The high bit of a byte is left at 0 just where the byte is 0.
	d, e = (d&sevens+sevens)|d, (e&sevens+sevens)|e
	return (^(d & e) >> 7 & ones) * bringDown >> 56
}
