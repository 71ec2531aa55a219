package ingest

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/history/study"
	"example.org/unseen/history/table"
)

// tinyStudy writes a study of one fish with the given array file.
func tinyStudy(t testing.TB, array string) *study.Study {
	return studyOf(t, "", "tag,released\n985141421300001,2025-04-03T20:00Z\n", array)
}

func studyOf(t testing.TB, extra, fish, array string) *study.Study {
	dir := t.TempDir()
	keys, rules, _ := strings.Cut(extra, "[rules]")
	text := keys + `
[fish]
file = "fish.csv"
[sightings]
files = ["array.csv"]
[[site]]
name = "Mill Lade"
[[site]]
name = "Alder Ford"
rows = { upper = ["north"], lower = ["south"] }
[[site]]
name = "Scar Weir"
[[site]]
name = "Tidehead"
[rules]
` + rules
	for name, s := range map[string]string{"study.toml": text, "fish.csv": fish, "array.csv": array} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(s), 0o644))
	}
	st, err := study.Load(filepath.Join(dir, "study.toml"))
	require.NoError(t, err)
	return st
}

// blockSize is about how much of a file a worker gets at a time.
const blockSize = 128 << 10

const head = "tag,site,antenna,time\n"
const good = "985141421300001,Tidehead,bank,2025-04-05 10:00:00\n"

// A line up to the limit is read however long the blocks are.
func TestLineNumbersAreExact(t *testing.T) {
	var b strings.Builder
	b.WriteString("\xef\xbb\xbf\r\n" + head + "\r\n")
	line, want := 4, 0
	for b.Len() < 3*blockSize {
		b.WriteString(good)
		line++
		if line%1000 == 0 {
			b.WriteString("\n \n")
			line += 2
		}
		want++
	}
	b.WriteString(strings.Repeat("y", table.MaxRecord) + "\n" + good + "985141421300001,Nowhere,bank,2025-04-05 10:00:00")
	st := tinyStudy(t, b.String())
	for _, workers := range []int{1, 3} {
		res, err := Run(context.Background(), st, Options{Workers: workers})
		require.NoError(t, err)
		assert.EqualValues(t, want+3, res.Accounting.Read)
		require.Len(t, res.Accounting.SetAside, 2)
		text := strings.Split(b.String(), "\n")
		assert.Equal(t, "unreadable", res.Accounting.SetAside[0].Rule)
		assert.Equal(t, "unknown_site", res.Accounting.SetAside[1].Rule)
		assert.Equal(t, at("array.csv", len(text)-2), res.Accounting.SetAside[0].Example)
		assert.Equal(t, at("array.csv", len(text)), res.Accounting.SetAside[1].Example)
	}
}

func at(file string, line int) string { return fmt.Sprintf("%s:%d", file, line) }

func TestFilesThatCannotBeRead(t *testing.T) {
	fails := func(st *study.Study, want string) {
		t.Helper()
		_, err := Run(context.Background(), st, Options{})
		if assert.Error(t, err) {
			assert.Contains(t, err.Error(), want)
		}
	}
	for array, want := range map[string]string{
		"":                        "array.csv:1: the table is empty",
		"\n \n":                   "the table is empty",
		"tag,site\n":              `no column "time" among tag, site`,
		"Code,site,time\n":        `no column "tag" among Code, site, time; say which`,
		"tag,time\n":              `no column "site" or "antenna"`,
		"tag,\"si\"te,time\n":     "array.csv:1: text after the closing quote of the field",
		"tag\x00,site,time\n":     "NUL",
		"\xff\xfet\x00a\x00g\x00": `no column "time" among tag`,
		"\xd0\xcf\x11\xe0":        "old kind (.xls)",
		"tag,site,time\rx,y,z\r":  `"z" is not a date`,
		strings.Repeat("t", table.MaxRecord+blockSize):                                                                                           "array.csv:1: the line is longer than 1 MiB",
		head + strings.Replace(good, "2025-04-05", "04/05/2025", 1):                                                                              "date_order",
		head + strings.Replace(good, "2025-04-05", "25/04/2025", 1) + strings.Replace(good, "2025-04-05", "04/25/2025", 1):                       "month first",
		head + strings.Replace(good, "2025-04-05", "5/4/25", 1):                                                                                  "two digits",
		head + strings.Replace(good, "2025-04-05 10:00:00", "yesterday", 1):                                                                      `"yesterday" is not a date`,
		head + strings.Repeat(strings.Replace(good, "2025-04-05", "25/04/2025", 1), 9000) + strings.Replace(good, "2025-04-05", "04/25/2025", 1): "array.csv:9002: the date is not day first",
	} {
		fails(tinyStudy(t, array), want)
	}

	// Compressed files that are cut off, or damaged.
	for _, ending := range []string{".gz", ".zst"} {
		st := tinyStudy(t, "")
		path := filepath.Join(filepath.Dir(st.Path), "array.csv"+ending)
		writeCompressed(t, path, []byte(head+strings.Repeat(good, 50_000)))
		whole, err := os.ReadFile(path)
		require.NoError(t, err)
		st.Sightings[0].Files, st.Sightings[0].Written = []string{path}, []string{"array.csv" + ending}
		_, err = Run(context.Background(), st, Options{})
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(path, whole[:len(whole)-5], 0o644))
		fails(st, "get a complete copy")
		require.NoError(t, os.WriteFile(path, whole[:3], 0o644))
		if ending == ".gz" {
			fails(st, "get a complete copy")
		}
	}

	st := tinyStudy(t, head+good)
	dir := filepath.Dir(st.Path)
	name := func(files ...string) {
		st.Sightings[0].Files, st.Sightings[0].Written = nil, files
		for _, f := range files {
			st.Sightings[0].Files = append(st.Sightings[0].Files, filepath.Join(dir, f))
		}
	}
	name("none.csv")
	fails(st, `"none.csv" cannot be read`)
	name("arrays/*.csv")
	fails(st, `"arrays/*.csv" matches no file`)
	require.NoError(t, os.Mkdir(filepath.Join(dir, "arrays"), 0o755))
	name("arrays")
	fails(st, `the folder "arrays" holds no table`)
	require.NoError(t, os.Symlink("nowhere.csv", filepath.Join(dir, "arrays", "a.csv")))
	fails(st, "array file cannot be read")
	require.NoError(t, os.Remove(filepath.Join(dir, "arrays", "a.csv")))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "arrays", "notes.doc"), nil, 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "arrays", "a.csv"), []byte(head+good), 0o644))
	name("arrays", "arrays/a.csv", "arrays/*.csv")
	res, err := Run(context.Background(), st, Options{})
	require.NoError(t, err)
	assert.EqualValues(t, 1, res.Accounting.Read, "a file named thrice is read once")
	assert.Contains(t, strings.Join(res.Notes, "\n"), "arrays/notes.doc")
}

// The order of day and month is looked for as far as the file goes.
func TestOrderIsSettledFarDownTheFile(t *testing.T) {
	line := func(date string) string { return strings.Replace(good, "2025-04-05", date, 1) }
	array := head + strings.Repeat(line("04/05/2025"), 30_000) + line("25/05/2025") + line("04/05/2025")
	res, err := Run(context.Background(), tinyStudy(t, array), Options{})
	require.NoError(t, err)
	assert.Equal(t, []string{"array.csv: dates are day first, as line 30002 shows: 25/05/2025 10:00:00"}, res.Notes)
	assert.Equal(t, time.Date(2025, 5, 4, 10, 0, 0, 0, time.UTC).UnixMilli(), res.Histories.First[3])
}

// It is looked for also where the first thing behind the header is a line too
// long to be read.
func TestOrderIsSettledBehindALongLine(t *testing.T) {
	line := func(date string) string { return strings.Replace(good, "2025-04-05", date, 1) }
	array := head + strings.Repeat("y", 2*table.MaxRecord) + "\n" + line("04/05/2025") + line("25/05/2025")
	res, err := Run(context.Background(), tinyStudy(t, array), Options{})
	require.NoError(t, err)
	assert.Equal(t, []string{"array.csv: dates are day first, as line 4 shows: 25/05/2025 10:00:00"}, res.Notes)
	assert.Equal(t, map[string]int64{"unreadable": 1}, boxes(&res.Accounting))
}

// The header of an array file is read by the one rule for quotes: a name may hold
// a line end. The lines behind it keep their numbers.
func TestHeaderOverTwoLines(t *testing.T) {
	array := "tag,\"site\n(weir)\",antenna,time\n" + good + "985141421300001,Nowhere,bank,2025-04-05 10:00:00\n"
	st := tinyStudy(t, array)
	st.Sightings[0].Columns = map[string][]string{"site": {"site\n(weir)"}}
	res, err := Run(context.Background(), st, Options{})
	require.NoError(t, err)
	assert.EqualValues(t, 1, res.Accounting.Kept)
	require.Len(t, res.Accounting.SetAside, 1)
	assert.Equal(t, "array.csv:4", res.Accounting.SetAside[0].Example)
}

func TestFileWithoutRecordsIsNoted(t *testing.T) {
	res, err := Run(context.Background(), tinyStudy(t, head), Options{})
	require.NoError(t, err)
	assert.Equal(t, []string{"array.csv: a header, but no record"}, res.Notes)
	assert.Zero(t, res.Accounting.Read)
}

// A folder that may not be listed is refused; the check is that of the file
// system, so it is made with a folder whose reading fails for every user.
func TestFolderThatCannotBeListed(t *testing.T) {
	st := tinyStudy(t, head+good)
	dir := filepath.Join(filepath.Dir(st.Path), "closed")
	require.NoError(t, os.Mkdir(dir, 0o000))
	t.Cleanup(func() { os.Chmod(dir, 0o755) })
	if f, err := os.Open(dir); err == nil { // the superuser reads everything
		f.Close()
		require.NoError(t, os.Remove(dir))
		require.NoError(t, os.Symlink("closed", dir)) // a link to itself
	}
	st.Sightings[0].Files, st.Sightings[0].Written = []string{dir}, []string{"closed"}
	_, err := Run(context.Background(), st, Options{})
	assert.ErrorContains(t, err, `"closed" cannot be read`)
}

// Cancelling ends the reading soon and leaves no goroutine behind.
func TestCancel(t *testing.T) {
	st := tinyStudy(t, head+strings.Repeat(good, 200_000))
	before := runtime.NumGoroutine()
	ctx, cancel := context.WithCancel(context.Background())
	calls := 0
	_, err := Run(ctx, st, Options{Progress: func(done, total, records int64) {
		if calls++; calls == 3 {
			cancel()
		}
		assert.LessOrEqual(t, done, total)
	}})
	assert.ErrorIs(t, err, context.Canceled)
	assert.Equal(t, 3, calls)
	_, err = Duplicates(ctx, st, Options{})
	assert.ErrorIs(t, err, context.Canceled)
	for i := 0; i < 100 && runtime.NumGoroutine() > before; i++ {
		time.Sleep(time.Millisecond)
	}
	assert.LessOrEqual(t, runtime.NumGoroutine(), before)
}

// Ten times the records take no more memory: what is allocated while reading
// stays within a few blocks.
func TestMemoryDoesNotGrowWithRecords(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	quoted := strings.Replace(good, "Tidehead", `"Tidehead"`, 1)
	allocated := func(records int) uint64 {
		st := tinyStudy(t, head+strings.Repeat(good, records)+strings.Repeat(quoted, records))
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		_, err := Run(context.Background(), st, Options{Workers: 2})
		require.NoError(t, err)
		runtime.ReadMemStats(&after)
		return after.TotalAlloc - before.TotalAlloc
	}
	few, many := allocated(20_000), allocated(200_000)
	assert.Less(t, many, few+8*blockSize)
}
