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

	"example.org/unseen/history/ingest"
	"example.org/unseen/history/propose"
	"example.org/unseen/history/sighting"
	"example.org/unseen/history/study"
)

// copyDemo copies the demo's tables, without its study file.
func copyDemo(t *testing.T) string {
	const from = "../../cmd/unseen/internal/demo/files"
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, os.DirFS(from)))
	require.NoError(t, os.Remove(filepath.Join(dir, "study.toml")))
	return dir
}

func guessIn(t *testing.T, dir string, paths ...string) (*propose.Proposal, *study.Study) {
	t.Helper()
	p, err := propose.Study(context.Background(), paths, dir)
	require.NoError(t, err)
	st, err := study.Parse(filepath.Join(dir, "study.toml"), []byte(p.Study))
	require.NoError(t, err, "%s", p.Study)
	return p, st
}

// The demo's tables alone give a study that reads as its own does, but for
// what no table tells: the rows, the zone, and the name of the trap.
func TestGuessTheDemo(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	dir := copyDemo(t)
	p, st := guessIn(t, dir, dir)
	assert.Equal(t, "fish.csv", p.Fish)
	assert.Equal(t, []string{"arrays/alder-ford.csv.gz", "arrays/lower-river.csv.gz"}, p.Sightings)
	var names []string
	for _, s := range st.Sites {
		names = append(names, s.Name)
	}
	assert.Equal(t, []string{"Alder Ford", "Scar Weir", "Tidehead"}, names[len(names)-3:])
	assert.Equal(t, "cohort", st.Fish.Cohort)
	doubts := strings.Join(p.Doubts, "\n")
	assert.Contains(t, doubts, "UTC")
	assert.Contains(t, doubts, "order of the sites")
	res, err := ingest.Run(context.Background(), st, ingest.Options{})
	require.NoError(t, err)
	own, err := study.Load("../../cmd/unseen/internal/demo/files/study.toml")
	require.NoError(t, err)
	want, err := ingest.Run(context.Background(), own, ingest.Options{})
	require.NoError(t, err)
	assert.Equal(t, want.Accounting.Read, res.Accounting.Read)
	assert.Equal(t, want.Histories.Tag, res.Histories.Tag)
	assert.InDelta(t, float64(want.Accounting.Kept+want.Accounting.Repeats), float64(res.Accounting.Kept+res.Accounting.Repeats), 0.01*float64(want.Accounting.Read),
		"the hour between UTC and local time moves a few records only")
}

// Other people's tables: semicolons, decimal commas, month first, own names,
// plain text tags, a bystander.
func TestGuessByContent(t *testing.T) {
	dir := t.TempDir()
	var fish, array strings.Builder
	fish.WriteString("Nr;Mark;Laid out;Size\n")
	array.WriteString("When;Mark;Where;Head\n")
	for i := range 60 {
		tag := "A-" + string(rune('A'+i%26)) + string(rune('a'+i/26)) + "7"
		day := i%12 + 1
		fish.WriteString(strings.Join([]string{itoa(i), tag, "4/" + itoa(day) + "/2025 20:00", itoa(120+i) + ",5"}, ";") + "\n")
		array.WriteString(strings.Join([]string{"4/" + itoa(day+13) + "/2025 10:00", tag, "Place 1", "1"}, ";") + "\n")
		array.WriteString(strings.Join([]string{"4/" + itoa(day+3) + "/2025 10:00", tag, "Place 2", itoa(2 + i%2)}, ";") + "\n")
	}
	for name, text := range map[string]string{"a.csv": array.String(), "f.csv": fish.String(), "flow.csv": "day,flow\n2025-04-01,3.5\n2025-04-02,4.5\n"} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644))
	}
	p, st := guessIn(t, dir, dir)
	assert.Equal(t, "f.csv", p.Fish)
	assert.Equal(t, []string{"flow.csv"}, p.Other)
	assert.Equal(t, "text", st.TagForm)
	assert.Equal(t, map[string][]string{"tag": {"Mark"}, "time": {"When"}, "site": {"Where"}, "antenna": {"Head"}}, st.Sightings[0].Columns)
	assert.Equal(t, "Laid out", st.Fish.Columns["released"])
	assert.Equal(t, "Place 2", st.Sites[1].Name, "sites are ordered by who sees a fish first")
	assert.Equal(t, "Place 1", st.Sites[2].Name)
	assert.Contains(t, p.Study, "decimal comma")
	assert.Contains(t, p.Study, "semicolons")
	// The fish table's own dates are all ambiguous: said, not settled quietly.
	assert.Contains(t, strings.Join(p.Doubts, "\n"), "day first or month first")
}

// tagOf is a code of ISO 11784.
func tagOf(n int) string { return fmt.Sprint(985141421300000 + n) }

func itoa(n int) string {
	return strings.TrimLeft(string([]byte{byte('0' + n/100%10), byte('0' + n/10%10)}), "0") + string(rune('0'+n%10))
}

func TestGuessRefuses(t *testing.T) {
	dir := t.TempDir()
	_, err := propose.Study(context.Background(), []string{filepath.Join(dir, "nothing")}, dir)
	assert.ErrorContains(t, err, "cannot be read")
	require.NoError(t, os.WriteFile(filepath.Join(dir, "flow.csv"), []byte("day,flow\n2025-04-01,3.5\n"), 0o644))
	_, err = propose.Study(context.Background(), []string{dir}, dir)
	assert.ErrorContains(t, err, "needs a fish table and at least one table of sightings")
}

// Array files alone are no study: the fish table is asked for.
func TestGuessWantsAFishTable(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{"a.csv", "b.csv"} {
		text := "tag,site,time\n"
		for i := range 60 {
			text += fmt.Sprintf("%s,Scar Weir,2025-04-05 10:%02d:00\n", tagOf(i/6), i)
		}
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644))
	}
	_, err := propose.Study(context.Background(), []string{dir}, dir)
	assert.ErrorContains(t, err, "no table lists each tag once, as a fish table does: a.csv, b.csv")
}

// Names with quotes, backslashes or control characters come back unchanged.
func TestGuessQuotesNames(t *testing.T) {
	dir := t.TempDir()
	const odd = "Weir \"A\" \\ b\u0001"
	var array strings.Builder
	array.WriteString("tag,si\\te,time\n")
	fish := "tag,released\n"
	for i := range 20 {
		fish += tagOf(i) + ",2025-04-03 20:00\n"
		array.WriteString(tagOf(i) + ",\"" + strings.ReplaceAll(odd, `"`, `""`) + "\",2025-04-05 10:00:00\n")
		array.WriteString(tagOf(i) + ",Tidehead,2025-04-06 10:00:00\n")
	}
	require.NoError(t, os.WriteFile(filepath.Join(dir, "a.csv"), []byte(array.String()), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "f.csv"), []byte(fish), 0o644))
	_, st := guessIn(t, dir, dir)
	assert.Equal(t, odd, st.Sites[1].Name)
	assert.Equal(t, []string{"si\\te"}, st.Sightings[0].Columns["site"])
	res, err := ingest.Run(context.Background(), st, ingest.Options{})
	require.NoError(t, err)
	assert.EqualValues(t, 40, res.Accounting.Kept)
}

// twoReaders writes the tables of two readers of different make: one parts
// fields by semicolons and writes the time in one column, the other by tabs and
// in two.
func twoReaders(t *testing.T) string {
	dir := t.TempDir()
	var fish, upper, lower strings.Builder
	fish.WriteString("tag;released;Length (mm)\n")
	upper.WriteString("TAG;STATION;WHEN\n")
	lower.WriteString("tag\tlocation\tdate\ttime\n")
	for i := range 100 {
		fish.WriteString(tagOf(i) + ";02.04.2026 20:30;" + itoa(120+i%20) + ",5\n")
		upper.WriteString(tagOf(i) + ";Alder Ford;" + itoa(13+i%9) + "/04/2026 00:55:37\n")
		lower.WriteString(tagOf(i) + "\tScar Weir\t" + itoa(23+i%5) + "-04-2026\t12:" + itoa(10+i%50) + "\n")
		if i%4 == 0 {
			lower.WriteString(tagOf(i) + "\tScar Weir\t" + itoa(23+i%5) + "-04-2026\t27:" + itoa(10+i%50) + "\n") // no such hour
		}
	}
	for name, text := range map[string]string{"fish.csv": fish.String(), "upper.csv": upper.String(), "lower.txt": lower.String()} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644))
	}
	return dir
}

func TestTwoReadersOfDifferentMake(t *testing.T) {
	dir := twoReaders(t)
	p, st := guessIn(t, dir, dir)
	assert.Equal(t, map[string][]string{"site": {"location", "STATION"}, "date": {"date"}, "time": {"time", "WHEN"}}, st.Sightings[0].Columns)
	assert.Contains(t, strings.Join(p.Doubts, "\n"), `upper.csv: "STATION" is taken for what lower.txt calls "location"`)
	assert.NotContains(t, strings.Join(p.Doubts, "\n"), "TAG", "capitals make no other name")
	assert.Contains(t, p.Study, `# also read, for models: "Length (mm)"`)
	var names []string
	for _, s := range st.Sites[1:] {
		names = append(names, s.Name)
	}
	assert.Equal(t, []string{"Alder Ford", "Scar Weir"}, names)
	var aside []string
	res, err := ingest.Run(context.Background(), st, ingest.Options{SetAside: func(s sighting.SetAside) error {
		aside = append(aside, s.Time)
		return nil
	}})
	require.NoError(t, err)
	assert.EqualValues(t, 225, res.Accounting.Read)
	assert.EqualValues(t, 200, res.Accounting.Kept)
	require.Len(t, aside, 25)
	assert.Contains(t, res.Notes, "fish.csv: fields parted by semicolons, decimal comma", "as the study writes it, not where it stands")
	// Each record keeps its own time, though many are judged together.
	assert.Equal(t, "23-04-2026 27:10", aside[0])
	assert.Equal(t, "24-04-2026 27:56", aside[24])
	h := res.Histories
	for i := range h.Tag {
		want := time.Date(2026, 4, 23+i%5, 12, 10+i%50, 0, 0, time.UTC)
		assert.Equal(t, want.UnixMilli(), h.First[i*2+1], "fish %d", i)
	}
}

// A workbook keeps a date as a day number and a time of day as a fraction of one,
// whatever its cells show.
func TestWorkbookWithDateApartFromTime(t *testing.T) {
	dir := t.TempDir()
	x := excelize.NewFile()
	set := func(row int, cells ...any) {
		cell, err := excelize.CoordinatesToCellName(1, row)
		require.NoError(t, err)
		require.NoError(t, x.SetSheetRow("Sheet1", cell, &cells))
	}
	set(1, "Tag", "Station", "Date", "Time")
	fish := "tag,released,length_mm\n"
	at := func(i int) time.Time { return time.Date(2025, 4, 5+i%20, i%24, i%60, i%59, 0, time.UTC) }
	for i := range 60 {
		fish += tagOf(i) + ",2025-04-03 20:00Z," + itoa(110+i) + "\n"
		when := at(i)
		day := when.Truncate(24 * time.Hour)
		// One in three has the date alone as text.
		var date any = day
		if i%3 == 0 {
			date = day.Format(time.DateOnly)
		}
		set(i+2, tagOf(i), []string{"Scar Weir", "Tidehead"}[i%2], date, when.Sub(day))
	}
	require.NoError(t, x.SaveAs(filepath.Join(dir, "array.xlsx")))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "fish.csv"), []byte(fish), 0o644))
	p, st := guessIn(t, dir, dir)
	assert.Equal(t, []string{"Date"}, st.Sightings[0].Columns["date"], p.Study)
	assert.Equal(t, []string{"Time"}, st.Sightings[0].Columns["time"], p.Study)
	res, err := ingest.Run(context.Background(), st, ingest.Options{})
	require.NoError(t, err)
	require.EqualValues(t, 60, res.Accounting.Kept, "%+v", res.Accounting)
	h := res.Histories
	for i := range h.Tag {
		assert.Equal(t, at(i).UnixMilli(), max(h.First[i*2], h.First[i*2+1]), "fish %d", i)
	}
}

// A sheet as a spreadsheet has it: units below the header, fish without a tag,
// a total, an empty line, times of day with a point in a column nobody uses. The
// study that is proposed reads it without an edit.
func TestSheetWithLinesThatAreNoFish(t *testing.T) {
	dir := t.TempDir()
	fish := "Nr;PIT;Released;FL;Seen at\n;code;;mm;h\n"
	array := "tag,site,time\n"
	for i := range 40 {
		fish += fmt.Sprintf("%d;%s;%02d.04.2025 20:00;%d,5;09.%02d\n", i+1, tagOf(i), i%20+2, 110+i, i)
		array += fmt.Sprintf("%s,%s,2025-04-%02d 10:00:00\n", tagOf(i), []string{"Scar Weir", "Tidehead"}[i%2], i%20+5)
	}
	fish += "41;;22.04.2025 20:00;120,0;09.10\n;;;;\nTotal;41;;5219,0;\n"
	for name, text := range map[string]string{"fish.csv": fish, "array.csv": array} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644))
	}
	p, st := guessIn(t, dir, dir)
	assert.Empty(t, st.Fish.Kinds, p.Study)
	res, err := ingest.Run(context.Background(), st, ingest.Options{})
	require.NoError(t, err)
	assert.Equal(t, 40, res.Histories.Len())
	assert.EqualValues(t, 40, res.Accounting.Kept)
	assert.Equal(t, 110.5, res.Histories.Column("FL").Value[0])
	count := map[string]int64{}
	for _, f := range res.Findings {
		count[f.ID] = f.Count
	}
	assert.Equal(t, map[string]int64{"no_tag": 1, "no_fish": 2, "empty_line": 1}, count)
}

// Date and time of release in two columns are joined; of a date alone it is said
// what is assumed, and released_at settles it.
func TestReleaseInTwoColumns(t *testing.T) {
	write := func(header, when string) string {
		dir := t.TempDir()
		fish, array := "PIT;Start;"+header+";FL\n", "tag,site,time\n"
		for i := range 30 {
			fish += fmt.Sprintf("%s;%02d.04.2025;%s;%d\n", tagOf(i), i%20+2, when, 110+i)
			array += fmt.Sprintf("%s,%s,2025-04-%02d 10:00:00\n", tagOf(i), []string{"Scar Weir", "Tidehead"}[i%2], i%20+5)
		}
		for name, text := range map[string]string{"fish.csv": fish, "array.csv": array} {
			require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644))
		}
		return dir
	}
	run := func(dir, text string) *ingest.Result {
		st, err := study.Parse(filepath.Join(dir, "study.toml"), []byte(text))
		require.NoError(t, err)
		res, err := ingest.Run(context.Background(), st, ingest.Options{})
		require.NoError(t, err)
		return res
	}
	at := func(hour, minute int) int64 { return time.Date(2025, 4, 2, hour, minute, 0, 0, time.UTC).UnixMilli() }

	dir := write("Uhrzeit", "21:30")
	p, st := guessIn(t, dir, dir)
	assert.Equal(t, map[string]string{"released": "Uhrzeit"}, st.Fish.Joined, p.Study)
	res := run(dir, p.Study)
	assert.Equal(t, at(21, 30), res.Histories.Released[0])
	assert.Nil(t, res.Histories.Column("Uhrzeit"), "it is read once")

	dir = write("Netz", "3")
	p, _ = guessIn(t, dir, dir)
	assert.Contains(t, p.Study, "# released_at = \"20:00\"")
	res = run(dir, p.Study)
	assert.Equal(t, at(0, 0), res.Histories.Released[0])
	require.Len(t, res.Findings, 1)
	assert.Equal(t, "release_date_alone", res.Findings[0].ID)
	assert.EqualValues(t, 30, res.Findings[0].Count)
	res = run(dir, strings.Replace(p.Study, "# released_at", "released_at", 1))
	assert.Equal(t, at(20, 0), res.Histories.Released[0])
	assert.Empty(t, res.Findings)
	assert.Contains(t, res.Notes, "fish.csv: 30 releases have a date alone and are taken to be at 20:00, as released_at says")
}

// Files that are none, or cannot be read, are named with the reason; those that
// readers write with other endings are looked at.
func TestFilesThatAreNotRead(t *testing.T) {
	dir := t.TempDir()
	array := "tag|site|time\n"
	for i := range 20 {
		array += tagOf(i) + "|Scar Weir|2025-04-05 10:00:00\n" + tagOf(i) + "|Tidehead|2025-04-06 10:00:00\n"
	}
	for name, text := range map[string]string{
		"reader.log": array, "notes.docx": "?", "flow.csv": "day,flow\n2025-04-01,3.5\n", "old.csv": "\xd0\xcf\x11\xe0",
	} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644))
	}
	_, err := propose.Study(context.Background(), []string{dir}, dir)
	for _, want := range []string{"reader.log (both)", "flow.csv (no tags)", "notes.docx (its ending is none of a table)", "old.csv (", "old kind (.xls)"} {
		assert.ErrorContains(t, err, want)
	}
	fish := "tag,released,length\n"
	for i := range 20 {
		fish += tagOf(i) + ",2025-04-03 20:00,12" + fmt.Sprint(i) + "\n"
	}
	require.NoError(t, os.WriteFile(filepath.Join(dir, "fish.csv"), []byte(fish), 0o644))
	p, st := guessIn(t, dir, dir)
	assert.Equal(t, []string{"reader.log"}, p.Sightings)
	assert.Contains(t, strings.Join(p.Doubts, "\n"), "notes.docx")
	res, err := ingest.Run(context.Background(), st, ingest.Options{})
	require.NoError(t, err)
	assert.EqualValues(t, 40, res.Accounting.Kept)
}

// A second tag stands in a column of its own: records of either are the fish's.
func TestSecondTagInTheFishTable(t *testing.T) {
	dir := t.TempDir()
	fish, array := "tag,second PIT,released,length\n", "tag,site,time\n"
	for i := range 40 {
		second := ""
		if i%10 == 3 {
			second = tagOf(9000 + i)
		}
		fish += fmt.Sprintf("%s,%s,2025-04-03 20:00,%d\n", tagOf(i), second, 110+i)
		read := tagOf(i)
		if second != "" {
			read = second
		}
		array += fmt.Sprintf("%s,Scar Weir,2025-04-05 10:%02d:00\n%s,Tidehead,2025-04-07 10:%02d:00\n", read, i, tagOf(i), i)
	}
	for name, text := range map[string]string{"fish.csv": fish, "array.csv": array} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644))
	}
	p, st := guessIn(t, dir, dir)
	assert.Equal(t, "second PIT", st.Fish.SecondTag, p.Study)
	res, err := ingest.Run(context.Background(), st, ingest.Options{})
	require.NoError(t, err)
	assert.EqualValues(t, 80, res.Accounting.Kept)
	for i, seen := range res.Histories.Seen {
		assert.EqualValues(t, 3, seen, "fish %d", i)
	}
	assert.Nil(t, res.Histories.Column("second PIT"))

	// The same second tag of two fish is a fault.
	require.NoError(t, os.WriteFile(filepath.Join(dir, "fish.csv"), []byte(fish+tagOf(50)+","+tagOf(9003)+",2025-04-03 20:00,120\n"), 0o644))
	_, err = ingest.Run(context.Background(), st, ingest.Options{})
	assert.ErrorContains(t, err, "is the second tag of another fish too")
}
