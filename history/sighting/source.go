package sighting

import (
	"cmp"

	"example.org/unseen/history/clock"
	"example.org/unseen/history/study"
)

// source is what the study says of the records of a group of files.
type source struct {
	// site and antenna are those of all records; nil where the records say so.
	site, antenna []byte
	zone          int // of times without an offset; -1 where it is that of the place
	order         clock.Order
	fixes         []clockFix // besides those of the places
}

// newSources are the sources of a study's groups of files; their zones are put
// among those of the places.
func newSources(st *study.Study, p *places) ([]source, error) {
	var out []source
	for _, x := range st.Sightings {
		s := source{zone: -1, fixes: fixesOf(x.Clock), site: fixedField(x.Site), antenna: fixedField(x.Antenna)}
		if x.Row != "" {
			s.site = fixedField(x.Site + "/" + x.Row)
		}
		if x.TimeZone != "" {
			s.zone = p.zone(x.TimeZone, x.Location)
		}
		var err error
		if s.order, err = clock.ParseOrder(cmp.Or(x.DateOrder, st.DateOrder)); err != nil {
			return nil, err
		}
		out = append(out, s)
	}
	return out, nil
}

// fixedField is a field that all records have, in memory that [shorten] can read
// on in; nil where it is none.
func fixedField(s string) []byte {
	if s == "" {
		return nil
	}
	return append(make([]byte, 0, len(s)+16), s...)
}
