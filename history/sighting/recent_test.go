package sighting

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
)

// Unknown tags are found again however many there are.
func TestManyUnknownTags(t *testing.T) {
	s := unknownTags{}
	const n = 10_000
	for round := range 2 {
		for k := uint64(1); k <= n; k++ {
			s.add(k*31, unknownTag{reads: 1, first: int64(round), last: int64(round), place: k + uint64(round)*(k%2), pos: int64(k)})
		}
	}
	require.Len(t, s, n)
	for k := uint64(1); k <= n; k++ {
		x := s[k*31]
		require.Equal(t, unknownTag{reads: 2, first: 0, last: 1, place: k, several: k%2 == 1, pos: int64(k)}, *x)
	}
}

// Two antennas of one site that are remembered in one place are still two.
func TestPlacesRememberedInOnePlace(t *testing.T) {
	var m recent
	room := func(s string) []byte { return append(make([]byte, 0, 32), s...) }
	first := map[*recentPlace]string{}
	for i := range 1000 {
		name := fmt.Sprint("antenna ", i)
		p := m.place(room("Scar Weir"), room(name))
		require.False(t, p.known, "%s is not %s", name, first[p])
		p.known, first[p] = true, name
		require.True(t, m.place(room("Scar Weir"), room(name)).known)
	}
	require.Less(t, len(first), 1000)
}
