package findings

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/unseen/history"
	"example.org/unseen/history/rule"
	"example.org/unseen/history/sighting"
)

// Around a site that saw no fish the travel time is dealt out by km, or evenly
// where the sites have none.
func TestTravelTimeAroundABlindSite(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 4))
	for _, km := range []bool{false, true} {
		h := &history.Histories{}
		for k, name := range []string{"Mill Lade", "Alder Ford", "Scar Weir", "Tidehead"} {
			s := history.Site{Name: name, Km: math.NaN()}
			if km {
				s.Km = []float64{58, 36.6, 14.2, 0}[k]
			}
			h.River.Sites = append(h.River.Sites, s)
		}
		for i := range 800 {
			released := int64(i%160) * 6 * hour
			seen, first := uint64(0), []int64{history.NoTime, history.NoTime, history.NoTime}
			for row, hours := range []float64{24, math.NaN(), 72} { // nobody is seen at Scar Weir
				if !math.IsNaN(hours) && r.Float64() < 0.75 {
					seen |= 1 << row
					first[row] = released + int64(hours*float64(hour)*(0.98+0.04*r.Float64()))
				}
			}
			h.Entry, h.Released = append(h.Entry, 0), append(h.Released, released)
			h.Seen, h.First = append(h.Seen, seen), append(h.First, first...)
		}
		tr := newTravel(h, &sighting.Result{}, rule.Off{}, rule.Season{})
		// Two days from Alder Ford to Tidehead, within the 2 % fish differ by.
		assert.InEpsilon(t, 48*hour, tr.median[2]+tr.median[3], 0.02)
		share := 0.5
		if km {
			share = 22.4 / 36.6 // (36.6 − 14.2) of 36.6 km
		}
		assert.InDelta(t, share, tr.median[2]/(tr.median[2]+tr.median[3]), 1e-9)
	}
}
