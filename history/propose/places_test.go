package propose_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/history/ingest"
)

// readerFile is a reader's file with the given columns of each sighting, and
// the fish table beside it: 60 fish swim over three sites of two antennas each.
func readerFile(t *testing.T, header, fishHeader string, record func(tag string, site, antenna int, at time.Time, r *rand.Rand) []string) string {
	dir := t.TempDir()
	r := rand.New(rand.NewPCG(7, 1))
	fish, array := fishHeader+"\n", header+"\n"
	for i := range 60 {
		released := time.Date(2025, 4, 2+i%8, 20, 0, 0, 0, time.UTC)
		fish += fmt.Sprintf("%s,%s,%d\n", tagOf(i), released.Format("2006-01-02 15:04:05"), 110+i)
		for site := range 3 {
			if r.Float64() < 0.2 {
				continue
			}
			at := released.Add(time.Duration(float64(site+1)*30*(0.8+0.3*r.Float64())) * time.Hour)
			for antenna := range 2 {
				at = at.Add(time.Duration(20+r.IntN(90)) * time.Second)
				array += strings.Join(record(tagOf(i), site, antenna, at, r), ",") + "\n"
			}
		}
	}
	for name, text := range map[string]string{"array.csv": array, "fish.csv": fish} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644))
	}
	return dir
}

var threeSites = []string{"Alder Ford", "Scar Weir", "Tidehead"}

// The site is told by what it does, whatever the columns are called and
// wherever they stand; every passage is kept.
func TestSiteIsToldByWhatItDoes(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	when := func(at time.Time) string { return at.Format("2006-01-02 15:04:05") }
	for name, c := range map[string]struct {
		header, site, antenna string
		record                func(tag string, site, antenna int, at time.Time, r *rand.Rand) []string
	}{
		"antennas numbered anew at each site": {"timestamp,station,antenna,pit_tag", "station", "antenna",
			func(tag string, site, antenna int, at time.Time, _ *rand.Rand) []string {
				return []string{when(at), threeSites[site], fmt.Sprint(antenna + 1), tag}
			}},
		"antennas with names of their own": {"timestamp,station,antenna,pit_tag", "station", "antenna",
			func(tag string, site, antenna int, at time.Time, _ *rand.Rand) []string {
				return []string{when(at), threeSites[site], fmt.Sprint(10*site + antenna), tag}
			}},
		"sites are numbers too, headings that say nothing": {"A,B,C,D", "C", "B",
			func(tag string, site, antenna int, at time.Time, _ *rand.Rand) []string {
				return []string{when(at), fmt.Sprint(antenna + 1), fmt.Sprint(site + 7), tag}
			}},
		"another language": {"Zeitpunkt,Messstelle,Antenne,Transponder", "Messstelle", "Antenne",
			func(tag string, site, antenna int, at time.Time, _ *rand.Rand) []string {
				return []string{when(at), threeSites[site], fmt.Sprint(antenna + 1), tag}
			}},
		"headings that mislead": {"tid,antenn,stasjon,merke", "antenn", "stasjon",
			func(tag string, site, antenna int, at time.Time, _ *rand.Rand) []string {
				return []string{when(at), threeSites[site], fmt.Sprint(antenna + 1), tag}
			}},
		"antennas counted through, headings that say nothing": {"A,B,C,D", "C", "B",
			func(tag string, site, antenna int, at time.Time, _ *rand.Rand) []string {
				return []string{when(at), fmt.Sprint(10*site + antenna), fmt.Sprint(site + 7), tag}
			}},
		"initials of who read it out": {"time,read_by,where,tag", "where", "",
			func(tag string, site, antenna int, at time.Time, r *rand.Rand) []string {
				return []string{when(at), []string{"KM", "JB", "ANL"}[r.IntN(3)], threeSites[site], tag}
			}},
	} {
		t.Run(name, func(t *testing.T) {
			dir := readerFile(t, c.header, "tag,released,length_mm", c.record)
			p, st := guessIn(t, dir, dir)
			assert.Equal(t, []string{c.site}, st.Sightings[0].Columns["site"], p.Study)
			if c.antenna != "antenna" && c.antenna != "" {
				assert.Equal(t, []string{c.antenna}, st.Sightings[0].Columns["antenna"], p.Study)
			} else {
				assert.Empty(t, st.Sightings[0].Columns["antenna"], p.Study)
			}
			assert.Len(t, st.Sites, 4)
			res, err := ingest.Run(context.Background(), st, ingest.Options{})
			require.NoError(t, err)
			assert.Equal(t, res.Accounting.Read, res.Accounting.Kept+res.Accounting.Repeats)
			assert.Equal(t, res.Accounting.Read, 2*res.Accounting.Kept, "each passage has two records")
		})
	}
}

// Where the records themselves tell nothing, a table of the sites does.
func TestSiteIsToldByTheTableOfSites(t *testing.T) {
	dir := readerFile(t, "when,col1,col2,tag", "tag,released,length_mm",
		func(tag string, site, antenna int, at time.Time, r *rand.Rand) []string {
			// The site's crew goes with the site.
			return []string{at.Format("2006-01-02 15:04:05"), []string{"KM", "JB", "ANL"}[site], threeSites[site], tag}
		})
	require.NoError(t, os.WriteFile(filepath.Join(dir, "places.csv"), []byte("name,km\nAlder Ford,36.6\nScar Weir,14.2\nTidehead,0\n"), 0o644))
	p, st := guessIn(t, dir, dir)
	assert.Equal(t, []string{"col2"}, st.Sightings[0].Columns["site"], p.Study)
}

// A column that goes with the fish is no place, though a single site differs less.
func TestSpeciesIsNoSite(t *testing.T) {
	dir := readerFile(t, "when,art,p,tag", "tag,released,length_mm",
		func(tag string, site, antenna int, at time.Time, _ *rand.Rand) []string {
			return []string{at.Format("2006-01-02 15:04:05"), []string{"trout", "salmon"}[tag[14]%2], "Alder Ford", tag}
		})
	p, st := guessIn(t, dir, dir)
	assert.Equal(t, []string{"p"}, st.Sightings[0].Columns["site"], p.Study)
}

// Each site's files are in a folder of its own. The records name the site where
// a column says it, a reader's name beside its antennas too, and the folder does
// only where none does: that is asked.
func TestFoldersNameOnlyWhatRecordsDoNot(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	header := map[string]string{"Reader": "Reader;Antenna;Time;Tag", "Site": "Site;Antenna;Time;Tag", "none": "Antenna;Time;Tag"}
	for name, x := range map[string]struct {
		heading [3]string // of the place at each site
		called  [3]string // as the records call it
		want    [3]string
		asked   string
	}{
		"a reader called as its place": {[3]string{"Reader", "none", "Site"}, [3]string{"Alder Ford", "", "Tidehead Bridge"},
			[3]string{"Alder Ford", "scar", "Tidehead Bridge"}, "not all records name their site: scar is from the names of files"},
		"a reader called by its make": {[3]string{"Reader", "none", "Site"}, [3]string{"Model 7-031", "", "Tidehead Bridge"},
			[3]string{"alder", "scar", "Tidehead Bridge"}, "not all records name their site: alder, scar are from the names of files"},
		"a column that says the same everywhere": {[3]string{"Site", "none", "Site"}, [3]string{"fishway", "", "fishway"},
			[3]string{"alder", "scar", "tide"}, "not all records name their site: alder, tide, scar are from"},
		"records that name each": {[3]string{"Site", "Reader", "Site"}, [3]string{"Alder Ford", "Scar Weir", "Tidehead Bridge"},
			[3]string{"Alder Ford", "Scar Weir", "Tidehead Bridge"}, ""},
	} {
		t.Run(name, func(t *testing.T) {
			c := newCrew(t, 63, hollin...)
			c.plainFish("fish.csv", "Tag;Released;Length", c.fish, tagTimeLength)
			for k, folder := range []string{"alder", "scar", "tide"} {
				lines := []string{header[x.heading[k]]}
				for _, s := range c.at(k) {
					line := fmt.Sprintf("A%d;%s;%s", s.antenna+1, s.at.Format(plainTime), s.tag)
					if x.heading[k] != "none" {
						line = x.called[k] + ";" + line
					}
					lines = append(lines, line)
				}
				c.file(folder+"/export.csv", nil, "\n", lines)
			}
			p, res, err := c.read()
			require.NoError(t, err)
			var got []string
			for _, s := range res.Histories.River.Sites[1:] {
				got = append(got, s.Name)
			}
			assert.Equal(t, x.want[:], got, p.Study)
			if doubts := strings.Join(p.Doubts, "\n"); x.asked != "" {
				assert.Contains(t, doubts, x.asked)
			} else {
				assert.NotContains(t, doubts, "name their site")
			}
			assert.Contains(t, p.Study, `antenna = "Antenna"`)
		})
	}
}
