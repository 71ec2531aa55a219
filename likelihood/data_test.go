package likelihood

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// The data of some classes are all of theirs, of each kind, and no others.
func TestDataOfClasses(t *testing.T) {
	d := &Data{
		Units:         []Unit{{Class: 0}, {Class: 1}, {Class: 2}},
		HistoryGroups: []HistoryGroup{{Class: 2}, {Class: 1}},
		TravelTimes:   []TravelTime{{Class: 1}, {Class: 0}},
		Waits:         []Wait{{Class: 0}, {Class: 1}, {Class: 1}},
	}
	assert.Equal(t, &Data{
		Units:         []Unit{{Class: 1}},
		HistoryGroups: []HistoryGroup{{Class: 1}},
		TravelTimes:   []TravelTime{{Class: 1}},
		Waits:         []Wait{{Class: 1}, {Class: 1}},
	}, d.Of(func(class int) bool { return class == 1 }))
}
