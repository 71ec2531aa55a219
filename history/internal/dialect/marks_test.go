package dialect

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestMark holds the fast search to looking at every byte.
func TestMark(t *testing.T) {
	r := rand.New(rand.NewPCG(11784, 7))
	var marks []uint32
	for range 2000 {
		data := make([]byte, r.IntN(300))
		delim := []byte{',', ';', '\t', '|', 0x1f}[r.IntN(5)]
		for i := range data {
			switch r.IntN(4) {
			case 0:
				data[i] = delim
			case 1:
				data[i] = '\n'
			case 2: // the bytes that come nearest
				data[i] = []byte{delim ^ 1, delim ^ 0x80, '\n' ^ 1, '\n' ^ 0x80, 0, 0xFF}[r.IntN(6)]
			default:
				data[i] = byte(r.Uint32())
			}
		}
		var want []uint32
		for i, c := range data {
			if c == delim || c == '\n' {
				want = append(want, uint32(i))
			}
		}
		marks = Mark(marks, data, delim)
		require.Len(t, marks, 1+len(want))
		require.Equal(t, beforeAll, marks[0])
		for i := range want {
			require.Equal(t, want[i], marks[i+1])
		}
	}
}
