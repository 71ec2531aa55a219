package propose_test

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/text/encoding/charmap"

	"example.org/unseen/history"
	"example.org/unseen/history/propose"
	"example.org/unseen/history/study"
)

const plainTime = "02.01.2006 15:04:05"

// plainFish writes the fish table, each line with what line makes of its fish.
func (c *crew) plainFish(name, header string, fish []smolt, line func(i int, f smolt) string, more ...string) {
	lines := []string{header}
	for i, f := range fish {
		lines = append(lines, line(i, f))
	}
	c.file(name, nil, "\n", append(lines, more...))
}

func tagTimeLength(_ int, f smolt) string {
	return fmt.Sprintf("%s;%s;%.1f", f.tag, f.released.Format(plainTime), f.length)
}

// plainReads writes a file a site, below lines above; line makes a line of a read.
func (c *crew) plainReads(above []string, line func(n int, x swim) string) {
	for k, site := range c.sites {
		lines := slices.Clone(above)
		for n, x := range c.at(k) {
			lines = append(lines, line(n, x))
		}
		c.file(site+".csv", nil, "\n", lines)
	}
}

func tagTime(_ int, x swim) string { return x.tag + ";" + x.at.Format(plainTime) }

// right tells that the crew's tables give the histories with no edit.
func (c *crew) right() *propose.Proposal {
	c.t.Helper()
	p, res, err := c.read()
	require.NoError(c.t, err)
	require.Empty(c.t, differences(c.truth(false), says(res.Histories)), p.Study)
	return p
}

// A number of the reader, and one of each record, are as long as a tag and stand
// before it.
func TestNumbersAsLongAsTags(t *testing.T) {
	for name, number := range map[string]func(n int, x swim) string{
		"of the reader": func(_ int, x swim) string { return fmt.Sprint(982000000007700 + x.site) },
		"of the record": func(n int, x swim) string { return fmt.Sprint(982000000100000 + 10_000*x.site + n) },
	} {
		t.Run(name, func(t *testing.T) {
			c := newCrew(t, 41, hollin...)
			c.plainFish("fish.csv", "Tag;Released;Length", c.fish, tagTimeLength)
			c.plainReads([]string{"Number;Code;Time"}, func(n int, x swim) string { return number(n, x) + ";" + tagTime(n, x) })
			c.right()
		})
	}
}

// Where a spreadsheet spoilt the tags of the fish, no reader's file becomes the
// fish; why the table cannot be them is said.
func TestSpoiltFishTable(t *testing.T) {
	c := newCrew(t, 42, hollin...)
	c.plainFish("fish.csv", "Tag;Released;Length", c.fish, func(i int, f smolt) string { return "9,82126E+14" + strings.TrimPrefix(tagTimeLength(i, f), f.tag) })
	c.plainReads([]string{"Tag;Time"}, tagTime)
	_, err := propose.Study(context.Background(), []string{c.dir}, c.dir)
	assert.ErrorContains(t, err, `fish.csv looks like the fish table, but it has no column of tags: "Tag" holds "9,82126E+14": a spreadsheet`)
}

// A spreadsheet keeps all digits of a tag as a formula of a text.
func TestTagsAsFormulas(t *testing.T) {
	c := newCrew(t, 43, hollin...)
	c.plainFish("fish.csv", "Tag;Released;Length", c.fish, func(i int, f smolt) string {
		return `="` + f.tag + `"` + strings.TrimPrefix(tagTimeLength(i, f), f.tag)
	})
	c.plainReads([]string{"Tag;Time"}, tagTime)
	c.right()
}

// Lines that say in whichever words that a fish has no tag, and sums with a count
// in the column of the tags, are no fish, and are counted.
func TestLinesThatAreNoFish(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	for _, none := range []string{"ohne", "brak", "ingen", "ei merkkiä", "なし", "sem marca", "sans marque", "bez čipu", "без метки", "0", "-"} {
		c := newCrew(t, 44, hollin...)
		c.plainFish("fish.csv", "Nr;Tag;Released;Length", c.fish, func(i int, f smolt) string { return fmt.Sprint(i+1, ";", tagTimeLength(i, f)) },
			"91;"+none+";12.04.2025 20:00:00;131.5", "Celkem;91;;", "合計;91;;", "Samtals;1 091;;", ";Nombre de poissons : 91;;")
		c.plainReads([]string{"Tag;Time"}, tagTime)
		c.right()
		_, res, err := c.read()
		require.NoError(t, err)
		counts := map[string]int64{}
		for _, f := range res.Findings {
			counts[f.ID] = f.Count
		}
		assert.Equal(t, []int64{1, 4}, []int64{counts["no_tag"], counts["no_fish"]}, none)
	}
}

// Two downloads put together in one file, each below its station.
func TestStationNamedTwice(t *testing.T) {
	c := newCrew(t, 45, hollin[:2]...)
	c.plainFish("fish.csv", "Tag;Released;Length", c.fish, tagTimeLength)
	var lines []string
	for k, site := range c.sites {
		lines = append(lines, "Station: "+site, "", "Tag;Time")
		for n, x := range c.at(k) {
			lines = append(lines, tagTime(n, x))
		}
	}
	c.file("all.csv", nil, "\n", lines)
	p, _, err := c.read()
	require.NoError(t, err)
	assert.Contains(t, p.Doubts[0], fmt.Sprintf("all.csv names Station: %s in line %d, but all its records are taken for %s", c.sites[1], len(c.at(0))+4, c.sites[0]))
}

// A line above the header and a heading tell the clocks.
func TestClocksInWords(t *testing.T) {
	c := newCrew(t, 46, hollin...)
	c.plainFish("fish.csv", "Tag;Released (UTC);Length", c.fish, tagTimeLength)
	c.plainReads([]string{"Clock: summer time (UTC+2)", "", "Tag;Time"}, func(n int, x swim) string {
		x.at = x.at.Add(2 * time.Hour)
		return tagTime(n, x)
	})
	p := c.right()
	doubts := strings.Join(p.Doubts, "\n")
	assert.Contains(t, doubts, `"Clock: summer time (UTC+2)" is taken to say which clock`)
	assert.Contains(t, doubts, `"Released (UTC)" is taken to say which clock`)
	assert.NotContains(t, doubts, "have no offset")
}

// One reader of several writes the month first, as days above 12 show.
func TestOneReaderMonthFirst(t *testing.T) {
	c := newCrew(t, 47, hollin...)
	c.plainFish("fish.csv", "Tag;Released;Length", c.fish, tagTimeLength)
	c.plainReads([]string{"Tag;Time"}, func(_ int, x swim) string {
		return x.tag + ";" + x.at.Format([]string{"02/01/2006", "01/02/2006", "02/01/2006"}[x.site]+" 15:04:05")
	})
	c.right()
}

// A fish table for each day of releases: the others are neither sightings nor
// taken for readers.
func TestSeveralFishTables(t *testing.T) {
	c := newCrew(t, 48, hollin...)
	for day := range 3 {
		c.plainFish(fmt.Sprintf("tagging %d.csv", day+1), "Tag;Released;Length", c.fish[30*day:30*day+30], tagTimeLength)
	}
	c.plainReads([]string{"Tag;Time"}, tagTime)
	p, res, err := c.read()
	require.NoError(t, err)
	require.Len(t, p.Sightings, len(hollin))
	assert.Regexp(t, `^these are further fish tables, and their fish are missing: tagging \d.csv, tagging \d.csv;`, p.Doubts[0])
	assert.Len(t, p.Other, 2)
	assert.Equal(t, len(hollin)+1, len(res.Histories.River.Sites))
	assert.NotEqual(t, history.NoTime, res.Histories.First[0])
}

// A word that every record repeats, of letters that Western languages have too,
// does not outweigh the headings: a table of a Polish crew.
func TestRepeatedWordDoesNotTellTheEncoding(t *testing.T) {
	c := newCrew(t, 49, hollin...)
	lines := []string{"Znacznik;Gatunek;Długość całk.;Wypuszczono"}
	for _, f := range c.fish {
		lines = append(lines, fmt.Sprintf("%s;troć;%.1f;%s", f.tag, f.length, f.released.Format(plainTime)))
	}
	c.file("fish.csv", charmap.Windows1250, "\n", lines)
	c.plainReads([]string{"Tag;Time"}, tagTime)
	p := c.right()
	assert.Contains(t, p.Study, `"Długość całk."`)
}

// What would be counted wrong without a word is asked.
func TestQuestions(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	asked := func(c *crew) string {
		t.Helper()
		p, _, err := c.read()
		require.NoError(t, err)
		return strings.Join(p.Doubts, "\n")
	}
	sited := func(c *crew, site func(x swim) string) {
		lines := []string{"Tag;Time;Station"}
		for n, x := range c.reads {
			lines = append(lines, tagTime(n, x)+";"+site(x))
		}
		c.file("reads.csv", nil, "\n", lines)
	}

	c := newCrew(t, 50, hollin...)
	twice := make([]string, 3)
	for i := range twice {
		twice[i] = fmt.Sprint(4*i+1, ";", tagTimeLength(i, smolt{tag: tagOf(70_000 + i), released: c.fish[4*i].released, length: 130}))
	}
	numbered := func(i int, f smolt) string { return fmt.Sprint(i+1, ";", tagTimeLength(i, f)) }
	c.plainFish("fish.csv", "Fish;Tag;Released;Length", c.fish, numbered, twice...)
	c.plainReads([]string{"Tag;Time"}, tagTime)
	assert.Contains(t, asked(c), `fish.csv: 3 numbers in the column "Fish" stand on several lines (1, 5, 9)`)
	c.plainFish("fish.csv", "Fish;Tag;Released;Length", c.fish, numbered)
	assert.NotContains(t, asked(c), "several lines")

	caught := []string{"Tag;Date;Length"}
	for _, f := range c.fish[:20] {
		caught = append(caught, f.tag+";"+f.released.AddDate(0, 0, 30).Format("02.01.2006")+";171.0")
	}
	assert.NotContains(t, asked(c), "it is no site")
	c.file("caught by rod.csv", nil, "\n", caught)
	assert.Contains(t, asked(c), `caught by rod.csv has dates alone and "Length" of fish`)

	c = newCrew(t, 51, hollin...)
	c.plainFish("fish.csv", "Tag;Released;Length", c.fish, tagTimeLength)
	sited(c, func(x swim) string {
		if x.antenna == 1 && x.site == 0 {
			return strings.ToUpper(c.sites[0])
		}
		return c.sites[x.site]
	})
	assert.Contains(t, asked(c), `"ALDER FORD" (`)
	assert.Contains(t, asked(c), `is taken for another spelling of "Alder Ford", and stands in its aliases`)
	// A slip of one file's writer: some fish are read at the one name, others at the other.
	sited(c, func(x swim) string {
		if x.fish%4 == 0 && c.sites[x.site] == "Scar Weir" {
			return "scar wier"
		}
		return c.sites[x.site]
	})
	assert.Contains(t, asked(c), `is taken for another spelling of "Scar Weir", and stands in its aliases`)
	p, res, err := c.read()
	require.NoError(t, err)
	assert.Contains(t, p.Study, "name = \"Scar Weir\"\naliases = [\"scar wier\"]   # ?")
	assert.Equal(t, len(hollin)+1, len(res.Histories.River.Sites))
	sited(c, func(x swim) string {
		if x.antenna == 1 && c.sites[x.site] == "Scar Weir" {
			return "Scar Wier"
		}
		return c.sites[x.site]
	})
	assert.Contains(t, asked(c), "are written almost alike, but")
	assert.NotContains(t, asked(c), "stands in its aliases")
	sited(c, func(x swim) string { return fmt.Sprint(c.sites[x.site], "-", (x.antenna+x.fish)%2+1) })
	assert.Contains(t, asked(c), `were detected at both "Scar Weir-1" and "Scar Weir-2", nearly all within half an hour`)
	sited(c, func(x swim) string { return c.sites[x.site] })
	assert.NotContains(t, asked(c), "detected at both")
}

// The lines offered as comments are right where the # is taken away.
func TestOfferedLines(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	for _, cohort := range []bool{false, true} {
		c := newCrew(t, 53, hollin...)
		header, line := "Tag;Released;Length", tagTimeLength
		if cohort {
			header += ";cohort"
			line = func(i int, f smolt) string { return tagTimeLength(i, f) + fmt.Sprintf(";week %d", i*5/len(c.fish)) }
		}
		c.plainFish("fish.csv", header, c.fish, line)
		c.plainReads([]string{"Tag;Time;Station"}, func(n int, x swim) string { return tagTime(n, x) + ";" + c.sites[x.site] })
		p, _, err := c.read()
		require.NoError(t, err)
		top, model, found := strings.Cut(p.Study, "# [[model]]\n")
		require.True(t, found)
		model, _, _ = strings.Cut(model, "\n\n")
		st, err := study.Parse("study.toml", []byte(top+"[[model]]\n"+strings.ReplaceAll(model, "# ", "")+"\n"))
		require.NoError(t, err)
		require.Len(t, st.Models, 1)
		assert.Equal(t, map[bool]string{true: "reach + cohort", false: "reach"}[cohort], st.Models[0].Terms["survival"])
		assert.Contains(t, p.Study, "#   aliases = [\"Scar Wier\"]   (")
		_, working, found := strings.Cut(p.Study, "#   working = ")
		require.True(t, found)
		working, _, _ = strings.Cut(working, "   (")
		site := strings.Index(top, "name = \"Tidehead\"\n")
		require.Positive(t, site)
		_, err = study.Parse("study.toml", []byte(top[:site]+"working = "+working+"\n"+strings.ReplaceAll(top[site:], "# km = ", "km = 1")))
		assert.ErrorContains(t, err, "km", "read, and refused for want of km alone")
	}
}
