package propose_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"example.org/unseen/history/propose"
)

// later moves a crew's season on by some days.
func (c *crew) later(days int) {
	by := time.Duration(days) * 24 * time.Hour
	for i := range c.fish {
		c.fish[i].released = c.fish[i].released.Add(by)
	}
	for i := range c.reads {
		c.reads[i].at = c.reads[i].at.Add(by)
	}
}

var (
	croatianNames = strings.Fields("siječnja veljače ožujka travnja svibnja lipnja srpnja kolovoza rujna listopada studenoga prosinca")
	croatianShort = strings.Fields("sij velj ožu tra svi lip srp kol ruj lis stu pro")
	polishNames   = strings.Fields("stycznia lutego marca kwietnia maja czerwca lipca sierpnia września października listopada grudnia")
)

// Two languages give the same names to other months: whichever the crew writes, it
// is read right, or asked about where no other month tells.
func TestMonthsOfTwoLanguages(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	croatian := func(t time.Time) string {
		return fmt.Sprintf("%d. %s %d. %s", t.Day(), croatianNames[t.Month()-1], t.Year(), t.Format("15:04:05"))
	}
	short := func(t time.Time) string {
		return fmt.Sprintf("%02d-%s-%d %s", t.Day(), croatianShort[t.Month()-1], t.Year(), t.Format("15:04:05"))
	}
	polish := func(t time.Time) string {
		return fmt.Sprintf("%d %s %d %s", t.Day(), polishNames[t.Month()-1], t.Year(), t.Format("15:04:05"))
	}
	for name, x := range map[string]struct {
		days  int
		write func(time.Time) string
		names string // what cannot be told; "" where all can
	}{
		"Croatian spring": {0, croatian, ""}, "Croatian autumn": {180, croatian, ""}, "Polish autumn": {210, polish, ""},
		"Croatian spring, short": {0, short, ""}, "Croatian from May to June, short": {47, short, ""}, "Croatian October alone, short": {180, short, "lis"},
	} {
		t.Run(name, func(t *testing.T) {
			c := newCrew(t, 61, hollin...)
			c.later(x.days)
			c.plainFish("ribe.csv", "Oznaka;Pušteno;Duljina", c.fish, func(_ int, f smolt) string { return f.tag + ";" + x.write(f.released) + ";" + comma(f.length) })
			c.readsOne("čitanja.csv", []string{"Oznaka;Vrijeme;Mjesto"}, func(_ int, s swim) string { return s.tag + ";" + x.write(s.at) + ";" + c.sites[s.site] })
			if x.names == "" {
				c.right()
				return
			}
			_, err := propose.Study(context.Background(), []string{c.dir}, c.dir)
			require.ErrorContains(t, err, "one month in Croatian and another in Polish")
			assert.ErrorContains(t, err, x.names)
		})
	}
}

// readsOne writes all reads to one file, below its first lines.
func (c *crew) readsOne(name string, first []string, line func(n int, x swim) string) {
	lines := first
	for n, x := range c.reads {
		lines = append(lines, line(n, x))
	}
	c.file(name, nil, "\n", lines)
}

// book is a workbook of a sheet of the fish and one of the reads.
func (c *crew) book() *excelize.File {
	f := excelize.NewFile()
	rows := [][]any{{"Tag", "Released", "Length"}}
	for _, x := range c.fish {
		rows = append(rows, []any{x.tag, x.released, x.length})
	}
	c.sheet(f, "Fish", rows)
	rows = [][]any{{"Tag", "Station", "When"}}
	for _, x := range c.reads {
		rows = append(rows, []any{x.tag, c.sites[x.site], x.at})
	}
	c.sheet(f, "Reads", rows)
	return f
}

// A hidden sheet is not read, and named: here one of the reads a day off.
func TestHiddenSheets(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	c := newCrew(t, 62, hollin...)
	f := c.book()
	rows := [][]any{{"Tag", "Station", "When"}}
	for _, x := range c.reads {
		rows = append(rows, []any{x.tag, c.sites[x.site], x.at.AddDate(0, 0, -1)})
	}
	c.sheet(f, "Before", rows)
	require.NoError(t, f.SetSheetVisible("Before", false))
	require.NoError(t, f.MoveSheet("Before", "Fish"))
	c.save(f, "all.xlsx")
	p := c.right()
	assert.Contains(t, strings.Join(p.Doubts, "\n"), `all.xlsx, sheet Before (the workbook hides it; show it, or name it with sheet = "Before")`)
}

// Dates of a workbook that counts from 1904 are not read as if it counted from
// 1900.
func TestDatesFrom1904(t *testing.T) {
	c := newCrew(t, 63, hollin...)
	f := c.book()
	yes := true
	require.NoError(t, f.SetWorkbookProps(&excelize.WorkbookPropsOptions{Date1904: &yes}))
	c.save(f, "all.xlsx")
	_, err := propose.Study(context.Background(), []string{c.dir}, c.dir)
	assert.ErrorContains(t, err, "it counts days from 1904")
	assert.NotContains(t, err.Error(), "complete copy", "the workbook is sound")
}

// Cells of a sheet that go down over several rows are those of each of them.
func TestCellsMergedDownwards(t *testing.T) {
	c := newCrew(t, 64, hollin...)
	c.plainFish("fish.csv", "Tag;Released;Length", c.fish, tagTimeLength)
	f := excelize.NewFile()
	rows := [][]any{{"Station", "Date", "Time", "Tag"}}
	type span struct{ column, from, to int }
	var spans []span
	for k, site := range c.sites {
		first, day := len(rows)+1, time.Time{}
		for _, x := range c.at(k) {
			row := []any{nil, nil, x.at.Sub(x.at.Truncate(24 * time.Hour)), x.tag}
			if x.at.Truncate(24 * time.Hour).Equal(day) {
				spans[len(spans)-1].to = len(rows) + 1
			} else {
				day = x.at.Truncate(24 * time.Hour)
				row[1] = day
				spans = append(spans, span{2, len(rows) + 1, len(rows) + 1})
			}
			if len(rows)+1 == first {
				row[0] = site
			}
			rows = append(rows, row)
		}
		spans = append(spans, span{1, first, len(rows)})
	}
	c.sheet(f, "Reads", rows)
	for _, s := range spans {
		from, _ := excelize.CoordinatesToCellName(s.column, s.from)
		to, _ := excelize.CoordinatesToCellName(s.column, s.to)
		require.NoError(t, f.MergeCell("Reads", from, to))
	}
	c.save(f, "reads.xlsx")
	c.right()
}

// A time in three columns and more, and a tag in two, are put together however a
// table is written.
func TestPartsInColumns(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	number := func(n int) string { return fmt.Sprint(n) }
	for name, x := range map[string]struct {
		header string
		cells  func(c *crew, n int, x swim) []string
	}{
		"day, month, year": {"Day;Month;Year;Time;Tag;Station", func(c *crew, _ int, x swim) []string {
			return []string{number(x.at.Day()), number(int(x.at.Month())), number(x.at.Year()), x.at.Format("15:04:05"), x.tag, c.sites[x.site]}
		}},
		"month first, times in figures alone": {"Monat;Tag;Jahr;Uhrzeit;Code;Ort", func(c *crew, _ int, x swim) []string {
			return append(strings.Split(x.at.Format("01;02;2006;150405"), ";"), x.tag, c.sites[x.site])
		}},
		"down to seconds": {"Place;YYYY;MM;DD;hh;mm;ss;ID", func(c *crew, _ int, x swim) []string {
			return append(append([]string{c.sites[x.site]}, strings.Split(x.at.Format("2006;1;2;15;4;5"), ";")...), x.tag)
		}},
		"a month in words": {"Jour;Mois;An;Heure;Puce;Lieu", func(c *crew, _ int, x swim) []string {
			return []string{number(x.at.Day()), []string{"avril", "mai"}[x.at.Month()-4], "2025", x.at.Format("15h04m05"), x.tag, c.sites[x.site]}
		}},
		"country and number": {"Time;Country;Number;Station", func(c *crew, _ int, x swim) []string {
			return []string{x.at.Format(plainTime), x.tag[:3], strings.TrimLeft(x.tag[3:], "0"), c.sites[x.site]}
		}},
		"country and number in hexadecimal": {"No;Time;Mfr;ID;Station", func(c *crew, n int, x swim) []string {
			h := c.hex(x.tag, "")
			return []string{number(200_000 + n), x.at.Format(plainTime), h[:3], h[3:], c.sites[x.site]}
		}},
		"all in parts": {"Country;Number;Year;Month;Day;Hour;Minute;Second;Station", func(c *crew, _ int, x swim) []string {
			return append(append([]string{x.tag[:3], x.tag[3:]}, strings.Split(x.at.Format("2006;1;2;15;4;5"), ";")...), c.sites[x.site])
		}},
		"the half of the day apart": {"Tag;Date;Time;AM/PM;Station", func(c *crew, _ int, x swim) []string {
			return append(append([]string{x.tag}, strings.Split(x.at.Format("2006-01-02;3:04:05;PM"), ";")...), c.sites[x.site])
		}},
		"the zone apart, one of two": {"Tag;Time;Zone;Station", func(c *crew, n int, x swim) []string {
			if n%2 == 0 {
				return []string{x.tag, x.at.Add(2 * time.Hour).Format(plainTime), "UTC+2", c.sites[x.site]}
			}
			return []string{x.tag, x.at.Format(plainTime), "UTC", c.sites[x.site]}
		}},
		"the half and the zone apart": {"Tag;Date;Time;;Offset;Station", func(c *crew, _ int, x swim) []string {
			return append(append([]string{x.tag}, strings.Split(x.at.Add(3*time.Hour).Format("2006-01-02;3:04:05;pm"), ";")...), "+03:00", c.sites[x.site])
		}},
	} {
		for _, how := range []string{"text", "workbook", "widths"} {
			t.Run(name+", "+how, func(t *testing.T) {
				x.header = strings.Replace(x.header, ";;", ";Half;", 1)
				c := newCrew(t, 65, hollin...)
				c.plainFish("fish.csv", "Tag;Released;Length", c.fish, tagTimeLength)
				rows := [][]string{strings.Split(x.header, ";")}
				for n, r := range c.reads {
					if n%50 == 49 {
						rows = append(rows, rows[0]) // files put together
					}
					rows = append(rows, x.cells(c, n, r))
				}
				c.rows("reads", how, rows)
				c.right()
			})
		}
	}
}

// rows writes rows of cells as text, as a workbook, or in fixed widths.
func (c *crew) rows(name, how string, rows [][]string) {
	var lines []string
	var cells [][]any
	for _, row := range rows {
		cells = append(cells, anys(row))
		line := strings.Join(row, ";")
		if how == "widths" {
			line = inWidths(row)
		}
		lines = append(lines, line)
	}
	if how == "workbook" {
		f := excelize.NewFile()
		c.sheet(f, "A", cells)
		c.save(f, name+".xlsx")
		return
	}
	c.file(name+".csv", nil, "\n", lines)
}

// A release in parts; the parts are no attributes of the fish.
func TestReleaseInParts(t *testing.T) {
	c := newCrew(t, 66, hollin...)
	c.plainFish("fish.csv", "Mfr;ID;Length;Released day;Released month;Released year;Released time;Half;Remark", c.fish, func(i int, f smolt) string {
		h := c.hex(f.tag, "")
		return fmt.Sprintf("%s;%s;%.1f;%s;\"bled;\nput back %d\"", h[:3], h[3:], f.length, f.released.Format("2;1;2006;3:04;PM"), i)
	})
	c.plainReads([]string{"Tag;Time"}, tagTime)
	c.right()
	_, res, err := c.read()
	require.NoError(t, err)
	var names []string
	for _, x := range res.Histories.Columns {
		names = append(names, x.Name)
	}
	assert.Equal(t, []string{"Length", "Remark"}, names)
	for i, f := range c.fish {
		assert.Equal(t, f.released.UnixMilli(), res.Histories.Released[i], f.tag)
	}
}

// A column of numbers beside one of three digits is no tag where no other table
// has such tags.
func TestNumbersThatAreNoTags(t *testing.T) {
	c := newCrew(t, 67, hollin...)
	c.plainFish("fish.csv", "Tag;Released;Length", c.fish, tagTimeLength)
	c.plainReads([]string{"Tag;Time"}, tagTime)
	lines := []string{"Time;Gauge;Pressure"}
	for n := range 200 {
		lines = append(lines, fmt.Sprintf("%s;301;%d", time.Date(2025, 4, 9, n, 0, 0, 0, time.UTC).Format(plainTime), 101_300+n))
	}
	c.file("gauge.csv", nil, "\n", lines)
	p := c.right()
	assert.Equal(t, []string{"gauge.csv"}, p.Other)
}

// What would be read wrong without a word is told, or refused.
func TestTablesReadWrong(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	type told struct{ doubt, err string }
	for name, x := range map[string]struct {
		write func(c *crew)
		told
	}{
		"a clock that goes to twelve": {func(c *crew) {
			c.plainReads([]string{"Tag;Time"}, func(_ int, x swim) string { return x.tag + ";" + x.at.Format("02.01.2006 03:04:05") })
		}, told{doubt: "all times are between 1:00 and 12:59, as of a clock that goes to twelve"}},
		"a clock that goes to twelve, dates apart": {func(c *crew) {
			c.plainReads([]string{"Tag;Date;Time"}, func(_ int, x swim) string { return x.tag + ";" + x.at.Format("02.01.2006;03:04:05") })
		}, told{doubt: "all times are between 1:00 and 12:59, as of a clock that goes to twelve"}},
		"places in lines of their own": {func(c *crew) {
			lines := []string{"Tag;Time"}
			for k, site := range c.sites {
				lines = append(lines, "== "+site+" ==")
				for n, x := range c.at(k) {
					lines = append(lines, tagTime(n, x))
				}
			}
			c.file("Hollin Water.csv", nil, "\n", lines)
		}, told{doubt: `Hollin Water.csv has 3 lines of words alone among its records, the first is line 2, "== Alder Ford =="`}},
		"antennas of their own names": {func(c *crew) {
			c.readsOne("reads.csv", []string{"Tag;Time;Antenna"}, func(n int, x swim) string { return fmt.Sprintf("%s;%c%d", tagTime(n, x), "AST"[x.site], x.antenna+1) })
		}, told{doubt: `were detected at both "A1" and "A2", nearly all within half an hour`}},
		"a column for each site": {func(c *crew) { c.file("summary.csv", nil, "\n", c.across()) },
			told{err: "summary.csv has one line a fish and the times of each site in a column of its own (Alder Ford, Scar Weir, Tidehead), which is not read"}},
		"a column for each site, beside the array files": {func(c *crew) {
			c.file("summary.csv", nil, "\n", c.across())
			c.plainReads([]string{"Tag;Time"}, tagTime)
		}, told{doubt: "summary.csv has one line a fish and the times of each site in a column of its own"}},
		"days taken for months": {func(c *crew) {
			f := excelize.NewFile()
			rows := [][]any{{"Tag", "Station", "When"}}
			for _, x := range c.reads {
				when := any(x.at.Format("02/01/2006 15:04:05"))
				if x.at.Day() <= 12 {
					when = time.Date(x.at.Year(), time.Month(x.at.Day()), int(x.at.Month()), x.at.Hour(), x.at.Minute(), x.at.Second(), 0, time.UTC)
				}
				rows = append(rows, []any{x.tag, c.sites[x.site], when})
			}
			c.sheet(f, "Reads", rows)
			c.save(f, "reads.xlsx")
		}, told{err: "it has taken the day for the month in those"}},
		"fish tables of several layouts": {func(c *crew) {
			c.plainFish("more.csv", "PIT;Weight;Release", c.fish[60:], func(_ int, f smolt) string {
				return fmt.Sprintf("%s;%.1f;%s", f.tag, f.weight, f.released.Format(plainTime))
			})
			c.plainFish("fish.csv", "Tag;Released;Length", c.fish[:60], tagTimeLength)
			c.plainReads([]string{"Tag;Time"}, tagTime)
		}, told{doubt: "these are further fish tables, and their fish are missing: more.csv"}},
		"codes with words before them": {func(c *crew) {
			c.plainReads([]string{"Tag;Time"}, func(_ int, x swim) string { return "HDX " + x.tag + ";" + x.at.Format(plainTime) })
		}, told{err: `no column of tags: "Tag" holds "HDX 985`}},
		"the time of tagging alone": {func(c *crew) {
			c.plainFish("fish.csv", "Tag;Tagged;Length", c.fish, tagTimeLength)
			c.plainReads([]string{"Tag;Time"}, tagTime)
		}, told{doubt: `fish.csv: "Tagged" is taken for the time of release, for want of another`}},
		"a release above the table": {func(c *crew) {
			c.plainFish("fish.csv", "Released: 08.04.2025 20:30\n\nTag;Length;Weight", c.fish, func(_ int, f smolt) string { return fmt.Sprintf("%s;%.1f;%.1f", f.tag, f.length, f.weight) })
			c.plainReads([]string{"Tag;Time"}, tagTime)
		}, told{err: "fish.csv looks like it, but has no column of release times, only Tag, Length, Weight"}},
		"a zone of a name": {func(c *crew) {
			c.plainReads([]string{"Tag;Time;Time zone"}, func(_ int, x swim) string { return tagTime(0, x) + ";AKDT" })
		}, told{doubt: `the column "Time zone" may say which clock the times are of, as "AKDT"`}},
	} {
		t.Run(name, func(t *testing.T) {
			c := newCrew(t, 68, hollin...)
			c.plainFish("fish.csv", "Tag;Released;Length", c.fish, tagTimeLength)
			x.write(c)
			p, _, err := c.read()
			if x.err != "" {
				require.ErrorContains(t, err, x.err)
				return
			}
			require.NoError(t, err)
			assert.Contains(t, strings.Join(p.Doubts, "\n"), x.doubt)
		})
	}
}

// across is a table of one line a fish, with the first time at each site.
func (c *crew) across() []string {
	lines := []string{"Tag;" + strings.Join(c.sites, ";")}
	for i, f := range c.fish {
		first := make([]string, len(c.sites))
		for _, x := range c.reads {
			if x.fish == i && first[x.site] == "" {
				first[x.site] = x.at.Format(plainTime)
			}
		}
		lines = append(lines, f.tag+";"+strings.Join(first, ";"))
	}
	return lines
}

// Releases among the detections tell the place of release, and are none.
func TestReleasesAmongReads(t *testing.T) {
	c := newCrew(t, 69, hollin...)
	c.plainFish("fish.csv", "Tag;Released;Length", c.fish, tagTimeLength)
	lines := []string{"Tag;Time;Place"}
	for _, f := range c.fish {
		lines = append(lines, f.tag+";"+f.released.Format(plainTime)+";Mill Lade")
	}
	for n, x := range c.reads {
		lines = append(lines, tagTime(n, x)+";"+c.sites[x.site])
	}
	c.file("events.csv", nil, "\n", lines)
	p := c.right()
	assert.Contains(t, strings.Join(p.Doubts, "\n"), `90 fish have a record at "Mill Lade" of the very time of their release`)
}

// Codes as spreadsheets and readers dress them are read.
func TestDressedCodes(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	grouped := func(s, sign string) string {
		return strings.Join([]string{s[:3], s[3:6], s[6:9], s[9:12], s[12:]}, sign)
	}
	for name, write := range map[string]func(c *crew, tag string) string{
		"thousands with commas": func(_ *crew, s string) string { return `"` + grouped(s, ",") + `"` }, "with narrow blanks": func(_ *crew, s string) string { return grouped(s, "\u202f") },
		"with apostrophes": func(_ *crew, s string) string { return grouped(s, "'") }, "a decimal": func(_ *crew, s string) string { return s + ",0" },
		"0x": func(c *crew, s string) string { return "0x" + c.hex(s, "") },
	} {
		t.Run(name, func(t *testing.T) {
			c := newCrew(t, 70, hollin...)
			c.plainFish("fish.csv", "Tag;Released;Length", c.fish, tagTimeLength)
			c.plainReads([]string{"Tag;Time"}, func(_ int, x swim) string { return write(c, x.tag) + ";" + x.at.Format(plainTime) })
			c.right()
		})
	}
}

// A date or a place that stands once above the records that it is of.
func TestCellsThatRepeatTheOneAbove(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	for _, how := range []string{"text", "workbook", "widths"} {
		t.Run(how, func(t *testing.T) {
			c := newCrew(t, 71, hollin...)
			rows := [][]string{{"Released", "Hour", "Tag", "Length"}}
			day := ""
			once := func(x time.Time) string {
				if s := x.Format("02.01.2006"); s != day {
					day = s
					return s
				}
				return ""
			}
			for _, f := range c.fish {
				rows = append(rows, []string{once(f.released), f.released.Format("15:04"), f.tag, comma(f.length)})
			}
			c.rows("fish", how, rows)
			rows = [][]string{{"Station", "Date", "Time", "Tag"}}
			for k := range c.sites {
				day = ""
				for n, x := range c.at(k) {
					site := ""
					if n == 0 {
						site = c.sites[k]
					}
					if n == 30 {
						rows = append(rows, rows[0])
					}
					rows = append(rows, []string{site, once(x.at), x.at.Format("15:04:05"), x.tag})
				}
			}
			c.rows("reads", how, rows)
			p := c.right()
			assert.Contains(t, strings.Join(p.Doubts, "\n"), `lines cells of "Station", "Date" are empty; they are taken to repeat the cell above`)
			_, res, err := c.read()
			require.NoError(t, err)
			for i, f := range c.fish {
				assert.Equal(t, f.released.Truncate(time.Minute).UnixMilli(), res.Histories.Released[i], f.tag)
			}
		})
	}
}

// A table with more columns than can be compared with each other is named as not
// read, with their number; the widest that is looked at is.
func TestVeryWideTables(t *testing.T) {
	for columns, says := range map[int]string{2000: "", 2001: "it has 2001 columns, and none of more than 2000 is looked at"} {
		dir := t.TempDir()
		fish, reads := "tag,released", "tag,site,time\n"
		for i := range columns - 2 {
			fish += fmt.Sprint(",c", i)
		}
		for k := range 5 {
			tag := fmt.Sprintf("999%012d", 41_000_000_001+k)
			fish += "\n" + tag + ",2025-04-01" + strings.Repeat(",1", columns-2)
			reads += tag + ",Scar Weir,2025-04-05 10:00\n"
		}
		require.NoError(t, os.WriteFile(filepath.Join(dir, "fish.csv"), []byte(fish+"\n"), 0o644))
		require.NoError(t, os.WriteFile(filepath.Join(dir, "reads.csv"), []byte(reads), 0o644))
		_, err := propose.Study(t.Context(), []string{dir}, dir)
		if says == "" {
			assert.NoError(t, err)
		} else {
			assert.ErrorContains(t, err, says)
		}
	}
}
