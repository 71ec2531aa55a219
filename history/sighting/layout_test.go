package sighting

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/history/study"
)

// Where both columns are wanted a file without one is refused, unless it has
// another for the time; the message says how files that differ are told.
func TestColumnsOfFilesThatDiffer(t *testing.T) {
	for _, c := range []struct{ header, columns, wrong string }{
		{"tag;site;day;time", `date = "day"`, ""},
		{"tag;site;time", `date = "day"`, `no column "day" among tag, site, time`},
		{"tag;site;when", `date = "day", time = ["time", "when"]`, ""},
		{"tag;place;time", `site = ["location", "STATION"]`, `no column "location" or "STATION" among tag, place, time`},
		{"tag;place;time", `site = "location"`, `give both names: columns = { site = ["location", "…"] }`},
		{"tag;PLACE;site;time", `site = ["place", "site"]`, ""},
	} {
		st, err := study.Parse("study.toml", []byte("[fish]\nfile = \"f.csv\"\n[sightings]\nfiles = \"a.csv\"\ncolumns = { "+c.columns+" }\n[[site]]\nname = \"A\"\n[[site]]\nname = \"B\"\n"))
		require.NoError(t, err)
		l, err := newLayout(strings.Split(c.header, ";"), ';', st.Sightings[0])
		if c.wrong != "" {
			assert.ErrorContains(t, err, c.wrong, c.header)
			continue
		}
		require.NoError(t, err, c.header)
		if strings.HasPrefix(c.header, "tag;PLACE") {
			assert.Equal(t, 2, l.columns.site, "an exact name goes before one in capitals")
		}
	}
}
