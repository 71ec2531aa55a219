package ingest

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Two texts whose hashes are the same are still two tags.
func TestTextsWithOneHash(t *testing.T) {
	x := newTagIndex(2, true, 0)
	x.set(x.put(7, "A1"), knownFish{fish: 1})
	x.set(x.put(7, "B2"), knownFish{fish: 2})
	require.NotNil(t, x.find(7, []byte(" B2 ")))
	assert.EqualValues(t, 2, x.find(7, []byte(" B2 ")).fish)
	assert.EqualValues(t, 1, x.find(7, []byte("A1")).fish)
	assert.Nil(t, x.find(7, []byte("C3")))
	assert.Nil(t, x.find(8, []byte("A1")))
}

// Strangers are found again however many there are.
func TestManyStrangers(t *testing.T) {
	var s strangers
	const n = 10_000
	for round := range 2 {
		for k := uint64(1); k <= n; k++ {
			s.at(k * 31).add(stranger{reads: 1, first: int64(round), last: int64(round), place: k + uint64(round)*(k%2), pos: int64(k)})
		}
	}
	require.Equal(t, n, s.n)
	for k := uint64(1); k <= n; k++ {
		x := s.at(k * 31)
		require.Equal(t, stranger{key: k * 31, reads: 2, first: 0, last: 1, place: k, several: k%2 == 1, pos: int64(k)}, *x)
	}
}

// Two antennas of one site that are remembered in one place are still two.
func TestPlacesMetInOnePlace(t *testing.T) {
	var m met
	room := func(s string) []byte { return append(make([]byte, 0, 32), s...) }
	first := map[*placeMet]string{}
	for i := range 1000 {
		name := fmt.Sprint("antenna ", i)
		p := m.place(room("Scar Weir"), room(name))
		require.False(t, p.known, "%s is not %s", name, first[p])
		p.known, first[p] = true, name
		require.True(t, m.place(room("Scar Weir"), room(name)).known)
	}
	require.Less(t, len(first), 1000)
}
