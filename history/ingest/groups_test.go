package ingest

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/encoding/unicode/utf32"

	"example.org/unseen/history/study"
	"example.org/unseen/history/tagcode"
)

// station writes a group of records in a layout of its own, and says in the
// words of a study how it did.
type station struct {
	*rand.Rand
	t    testing.TB
	dir  string
	name string
	keys []string
}

func (s *station) say(format string, args ...any) {
	s.keys = append(s.keys, fmt.Sprintf(format, args...))
}

// fileEncodings are those that a file tells by itself, but for two.
var fileEncodings = []struct {
	is   encoding.Encoding
	said string
}{
	{encoding.Nop, ""}, {unicode.UTF8BOM, ""},
	{unicode.UTF16(unicode.LittleEndian, unicode.UseBOM), ""}, {unicode.UTF16(unicode.BigEndian, unicode.IgnoreBOM), ""},
	{utf32.UTF32(utf32.LittleEndian, utf32.UseBOM), ""}, {utf32.UTF32(utf32.BigEndian, utf32.IgnoreBOM), "utf-32"},
	{charmap.Windows1252, "windows-1252"}, {charmap.Macintosh, "macintosh"},
}

// write writes the records, all of one site where site is not "".
func (s *station) write(reads []reading, site string) {
	zone, err := time.LoadLocation("Europe/Dublin") // the study's
	require.NoError(s.t, err)
	if s.IntN(2) == 0 {
		zone = time.FixedZone("", 5*3600)
		s.say("time_zone = \"Etc/GMT-5\"")
	}
	wrong := time.Duration(s.IntN(3)) * 170 * time.Second
	if wrong > 0 {
		s.say("clock = [{ seconds = %v }]", -wrong.Seconds())
	}
	apart := s.IntN(2) == 0
	date := []string{"2006-01-02", "2.1.2006", "02/01/2006"}[s.IntN(3)]
	if date != "2006-01-02" {
		s.say("date_order = \"day first\"")
	}
	// What the columns are, in an order of its own, with one that means nothing.
	columns := []string{"tag", "time", "volts"}
	if apart {
		columns = append(columns, "date")
	}
	if site == "" {
		columns = append(columns, "site")
	} else {
		s.say("site = %q", site)
	}
	antenna := site == "" || slices.ContainsFunc(reads, func(x reading) bool { return x.antenna != reads[0].antenna }) || s.IntN(2) == 0
	if antenna {
		columns = append(columns, "antenna")
	} else {
		s.say("antenna = %q", reads[0].antenna)
	}
	s.Shuffle(len(columns), func(i, j int) { columns[i], columns[j] = columns[j], columns[i] })
	hex := s.IntN(2) == 0
	var rows [][]string
	for _, x := range reads {
		at := x.at.Add(wrong).In(zone)
		when := at.Format(date + " 15:04:05")
		if apart {
			when = at.Format("15:04:05")
		}
		tag := x.tag
		if hex {
			c, err := tagcode.Parse(tag)
			require.NoError(s.t, err)
			tag = c.Hex()
		}
		cell := map[string]string{"tag": tag, "time": when, "date": at.Format(date), "site": x.site, "antenna": x.antenna, "volts": fmt.Sprintf("%.1f", 11+s.Float64())}
		var row []string
		for _, c := range columns {
			row = append(row, cell[c])
		}
		rows = append(rows, row)
	}
	s.layOut(columns, rows)
}

// layOut writes the rows as text or a workbook, and says what their columns are
// called.
func (s *station) layOut(columns []string, rows [][]string) {
	header := map[string]string{"tag": "Tag ID", "time": "Zeit µ", "date": "Fecha", "site": "Où", "antenna": "Lesegerät", "volts": "V"}
	called := func(i int) string { return fmt.Sprintf("%q", header[columns[i]]) }
	none := s.IntN(3) == 0
	if none {
		called = func(i int) string { return fmt.Sprint(i + 1) }
	}
	var pairs []string
	date := slices.Index(columns, "date")
	for i, c := range columns {
		switch {
		case c == "volts" || c == "date":
		case c == "time" && date >= 0:
			pairs = append(pairs, fmt.Sprintf("time = { join = [%s, %s] }", called(date), called(i)))
		default:
			pairs = append(pairs, c+" = "+called(i))
		}
	}
	s.say("columns = { %s }", strings.Join(pairs, ", "))
	above := s.IntN(4)
	switch {
	case none:
		s.say("header_line = 0")
		above = 0
	case above > 0:
		s.say("header_line = %d", above+1)
	}
	var names []string
	for _, c := range columns {
		names = append(names, header[c])
	}
	if !none {
		rows = slices.Insert(rows, 0, names)
	}
	if s.IntN(4) == 0 {
		s.sheet(above, rows)
		return
	}
	s.text(above, rows)
}

// sheet writes a sheet of a workbook behind another one.
func (s *station) sheet(above int, rows [][]string) {
	f := excelize.NewFile()
	require.NoError(s.t, f.SetSheetRow("Sheet1", "A1", &[]string{"nothing", "here"}))
	_, err := f.NewSheet("Reads")
	require.NoError(s.t, err)
	for i, row := range rows {
		cell, err := excelize.CoordinatesToCellName(1, above+i+1)
		require.NoError(s.t, err)
		require.NoError(s.t, f.SetSheetRow("Reads", cell, &row))
	}
	s.name += ".xlsx"
	require.NoError(s.t, f.SaveAs(filepath.Join(s.dir, s.name)))
	s.say("sheet = \"Reads\"")
}

// text writes parted or fixed-width text.
func (s *station) text(above int, rows [][]string) {
	var b strings.Builder
	for i := range above {
		fmt.Fprintf(&b, "%s\n", []string{"Reader 7, \"north\"; 12 V", "", "exported, by; hand|ok"}[i])
	}
	widths := make([]int, len(rows[0]))
	for _, row := range rows {
		for i, c := range row {
			widths[i] = max(widths[i], len([]rune(c))+1)
		}
	}
	delimiter := []string{",", ";", "\t", "|", "#", "fixed"}[s.IntN(6)]
	switch {
	case delimiter == "fixed":
		s.say("widths = %s", strings.ReplaceAll(fmt.Sprint(widths), " ", ", "))
	case delimiter == "#" || above == 0 && s.IntN(2) == 0:
		s.say("delimiter = %q", delimiter)
	}
	for _, row := range rows {
		if delimiter == "fixed" {
			for i, c := range row {
				b.WriteString(c + strings.Repeat(" ", widths[i]-len([]rune(c))))
			}
		} else {
			b.WriteString(strings.Join(row, delimiter))
		}
		b.WriteByte('\n')
	}
	enc := fileEncodings[s.IntN(len(fileEncodings))]
	if enc.said != "" {
		s.say("encoding = %q", enc.said)
	}
	text := b.String()
	text = strings.ReplaceAll(text, "\n", []string{"\n", "\r\n", "\r"}[s.IntN(3)])
	coded, err := enc.is.NewEncoder().String(text)
	require.NoError(s.t, err)
	s.name += []string{".csv", ".log", ".txt.gz"}[s.IntN(3)]
	writeCompressed(s.t, filepath.Join(s.dir, s.name), []byte(coded))
}

// However the records are split, shuffled, laid out, encoded and told of, the
// histories are the same bytes.
func TestLayoutsOfStationsDoNotMatter(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	w := cleanWorld(11)
	w.soil(11)
	w.reads = slices.DeleteFunc(w.reads, func(x reading) bool {
		_, err := tagcode.Parse(x.tag)
		return x.raw != "" || err != nil || x.site == "" || x.antenna == "" || strings.ContainsAny(x.site+x.antenna, "/")
	})
	before, after, _ := strings.Cut(worldStudy, "[sightings]\nfiles = [\"arrays\"]\n")
	want := ingestWorld(t, w.write(t, way{ending: ".csv"}), Options{})
	known := map[string]bool{"Mill Lade": true, "Alder Ford": true, "Scar Weir": true, "Tidehead": true}
	for seed := range uint64(25) {
		r := rand.New(rand.NewPCG(seed, 17))
		reads := slices.Clone(w.reads)
		r.Shuffle(len(reads), func(i, j int) { reads[i], reads[j] = reads[j], reads[i] })
		parts := map[string][]reading{} // by site, or mixed
		for _, x := range reads {
			at := fmt.Sprint("/", r.IntN(3))
			if known[x.site] && r.IntN(2) == 0 {
				at = x.site + at
			}
			parts[at] = append(parts[at], x)
		}
		dir := t.TempDir()
		text := before
		for n, at := range slices.Sorted(func(yield func(string) bool) {
			for at := range parts {
				if !yield(at) {
					return
				}
			}
		}) {
			s := &station{Rand: r, t: t, dir: dir, name: fmt.Sprintf("%02d", n)}
			site, _, _ := strings.Cut(at, "/")
			s.write(parts[at], site)
			text += fmt.Sprintf("[[sightings]]\nfiles = %q\n%s\n", s.name, strings.Join(s.keys, "\n"))
		}
		text += after
		require.NoError(t, os.WriteFile(filepath.Join(dir, "fish.csv"), []byte(worldFish+"\n"+strings.Join(w.fish, "\n")+"\n"), 0o644))
		st, err := study.Parse(filepath.Join(dir, "study.toml"), []byte(text))
		require.NoError(t, err, text)
		res, err := Run(t.Context(), st, Options{Workers: 1 + r.IntN(3)})
		require.NoError(t, err, text)
		require.Equal(t, boxes(&want.Accounting), boxes(&res.Accounting), "seed %d: %s", seed, text)
		require.Equal(t, want.Accounting.Kept, res.Accounting.Kept)
		require.True(t, shown(want.Histories) == shown(res.Histories), "seed %d: %s", seed, text)
	}
}

// What a group of files says that cannot be is refused with its place.
func TestGroupsAtFault(t *testing.T) {
	top := "[fish]\nfile = \"fish.csv\"\n"
	sites := "[[site]]\nname = \"Mill Lade\"\n[[site]]\nname = \"Alder Ford\"\nrows = { upper = [\"n\"], lower = [\"s\"] }\n[[site]]\nname = \"Tidehead\"\n"
	for says, want := range map[string]string{
		`site = "Alder Frod"`:                                     `5: [[sightings]]: the study has no site "Alder Frod"; did you mean "Alder Ford"?`,
		`row = "upper"`:                                           "5: [[sightings]]: row needs the site it is at",
		"site = \"Alder Ford\"\nrow = \"uper\"":                   `6: [[sightings]]: site "Alder Ford" has no row "uper"; did you mean "upper"?`,
		"site = \"Alder Ford\"\nrow = \"upper\"\nantenna = \"n\"": "7: [[sightings]]: the row says where the records were made; leave out row or antenna",
		"site = \"Tidehead\"\ncolumns = { site = \"Place\" }":     `6: [[sightings]]: all records are of the site "Tidehead", so there is no column for it; leave out one of the two`,
		`widths = [16, 0]`:                                        "5: widths must be a list of the columns' widths in characters, such as [16, 4, 19], not the number 0",
		`header_line = -1`:                                        "5: header_line must be the number of a line",
		`header_line = [2, 4]`:                                    "5: header_line must be",
		`columns = { tag = 2 }`:                                   "5: columns.tag must be text in quotes, not the number 2; columns are called by their numbers, from 1, only where header_line = 0",
		`encoding = "latin nine"`:                                 `5: no encoding is called "latin nine"; there are utf-8`,
		`delimiter = "::"`:                                        `5: delimiter must be a character`,
		"widths = [3]\ndelimiter = \";\"":                         "6: widths are given, so nothing parts the fields; leave out delimiter",
		"clock = [{ }]":                                           "clock needs seconds",
		`time_zone = "Hollin"`:                                    `no time zone is called "Hollin"`,
		`sheets = "A"`:                                            `unknown key "sheets" in [[sightings]]; did you mean "sheet"?`,
	} {
		_, err := study.Parse("study.toml", []byte(top+"[[sightings]]\nfiles = \"a.csv\"\n"+says+"\n"+sites))
		assert.ErrorContains(t, err, want, says)
	}
	const good = "tag,site,time\n985141421300001,Tidehead,2025-04-05 10:00\n"
	for _, c := range []struct{ a, b, want string }{
		{"", "files = \"a.csv\"", "study.toml:6: [[sightings]] files: a.csv is among the files on line 4 too; name it in one of the two"},
		{"header_line = 9", "", "a.csv: the file ends before line 9, which names the columns as header_line says"},
		{"header_line = 3", "", "a.csv:3: the line is blank"},
		{"sheet = \"Reads\"", "", "a.csv, sheet Reads: this is text; sheet = \"Reads\" is for workbooks"},
		{"encoding = \"utf-32\"", "", "a.csv:1: this is no text in utf-32"},
		{"header_line = 0", "", "a.csv: no column \"tag\" among 1, 2, 3; say which one it is with columns = { tag = \"…\" } under [[sightings]]"},
		{"header_line = 0\ncolumns = { tag = 1, time = 4, site = 2 }", "", "no column \"4\" among 1, 2, 3"},
	} {
		dir := t.TempDir()
		for name, text := range map[string]string{"fish.csv": "tag,released\n985141421300001,2025-04-03T20:00Z\n", "a.csv": good + "\n"} {
			require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644))
		}
		text := top + "[[sightings]]\nfiles = \"a.csv\"\n" + c.a + "\n"
		if c.a == "" {
			text = top + "[[sightings]]\nfiles = \"a.csv\"\n"
		}
		if c.b != "" {
			text += "[[sightings]]\n" + c.b + "\n"
		}
		st, err := study.Parse(filepath.Join(dir, "study.toml"), []byte(text+sites))
		require.NoError(t, err)
		_, err = Run(t.Context(), st, Options{})
		assert.ErrorContains(t, err, c.want, text)
	}
}
