package rule

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// Inside the stretch that Open gives, a fish with nothing special to it falls
// under none of the rules that Open is about; where it gives none, under one.
func TestOpenAgreesWithRecord(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 14))
	fish := Alive(math.MinInt64, 0)
	opened := 0
	for range 20_000 {
		s := Season{AsOf: math.MaxInt64, LastDayEnd: math.MaxInt64}
		if r.IntN(2) == 0 {
			s.AsOf = r.Int64N(50)
		}
		if r.IntN(2) == 0 {
			s.LastDayEnd = r.Int64N(50)
		}
		var windows []Window
		for range r.IntN(4) {
			from := r.Int64N(50)
			windows = append(windows, Window{from, from + r.Int64N(20)})
		}
		ms := r.Int64N(50)
		w, ok := s.Open(ms, windows)
		require.Equal(t, Record(ms, 1, &fish, &s, windows) == None, ok)
		if !ok {
			continue
		}
		opened++
		require.True(t, ms >= w.From && ms < w.To)
		for at := max(w.From, -1); at < min(w.To, 80); at++ {
			if got := Record(at, 1, &fish, &s, windows); got != None {
				t.Fatalf("%v, not none: %v %v %v", got, s, windows, at)
			}
		}
	}
	require.Greater(t, opened, 1000)
}
