package history

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestNamesThatAreMostLikelyOne(t *testing.T) {
	for _, c := range []struct {
		a, b        string
		same, alike bool
	}{
		{"Mølledam", "Molle dam", true, true},
		{"M\u00fchle", "Mu\u0308hle", true, true},
		{"ALDER-FORD", "Alder Ford ", true, true},
		{"Straße 2", "strasse_2", true, true},
		{"Møledam", "Mølledam", false, true},
		{"Mühle", "Muehle", false, true},
		{"Tidehead", "Tideheda", false, true},
		{"Scar Weir", "Scar Weirs", false, false}, // of four letters
		{"Scar Weir", "Scar Wier", false, true},
		{"Alder Ford", "Elder Ford", false, false},
		{"Mill Lade", "Mill Pond", false, false},
		{"Weir 2", "Weir 12", false, false},
		{"Weir 12", "Weir 21", false, false},
		{"Station A", "Station B", false, false},
		{"StationA", "StationB", false, false},
		{"Upper dam", "Lower dam", false, false},
		{"–", "/", false, false},
		{"", "", false, false},
	} {
		assert.Equal(t, c.same, SameSpelling(c.a, c.b), "%v", c)
		assert.Equal(t, c.alike, Alike(c.a, c.b), "%v", c)
		assert.Equal(t, c.alike, Alike(c.b, c.a), "%v", c)
	}
	assert.Equal(t, "alder ford", FirstAlike("Alder Ford", []string{"Alder Ford", "Alders Ford", "alder ford"}))
	assert.Equal(t, "Alders Ford", FirstAlike("Alder Ford", []string{"Scar Weir", "Alders Ford"}))
	assert.Empty(t, FirstAlike("Alder Ford", []string{"Alder Ford"}))
}
