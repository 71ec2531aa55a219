package sighting

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/unseen/history/study"
)

// An accent may be part of its letter, as a study is typed, or a sign of its own,
// as in names that a Mac made.
func TestAccentsInEitherForm(t *testing.T) {
	const composed, apart = "M\u00fchle", "Mu\u0308hle"
	for _, written := range []string{composed, apart} {
		p := newPlaces(&study.Study{Sites: []study.Site{{Name: "Trap"}, {Name: written, Rows: []study.Row{
			{Name: "upper", Antennas: []string{"Su\u0308d"}}, {Name: "lower", Antennas: []string{"Nord"}}}}}})
		for _, read := range []string{composed, apart} {
			assert.Equal(t, 1, p.find(read, "S\u00fcd", true, true))
			assert.Equal(t, 2, p.find(read, "Nord", true, true))
			assert.Equal(t, 2, p.find(read+"/lower", "", true, false))
			assert.Equal(t, unknownSite, p.find("Muhle", "Nord", true, true), "that is another place")
		}
		assert.Equal(t, 1, p.find("", "S\u00fcd", false, true))
		assert.Equal(t, []string{composed, composed + "/lower", composed + "/upper", "Trap"}, p.siteNames(), "each once")
		assert.Equal(t, []string{"Nord", "S\u00fcd"}, p.antennaNames())
	}
}
