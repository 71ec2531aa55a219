package propose_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/history/ingest"
	"example.org/unseen/history/propose"
)

// apartDir is a folder with twenty fish and two array files whose times are in a
// column of its own, at 14:20:05 and some minutes later.
func apartDir(t *testing.T, heading string, write func(minute int) string) string {
	dir := t.TempDir()
	fish := "Tag;Released;Length\n"
	arrays := [2]string{"Tag;Datum;" + heading + "\n", "Tag;Datum;" + heading + "\n"}
	for i := range 20 {
		fish += fmt.Sprintf("%s;2025-04-13 20:00;%d\n", tagOf(i), 110+i)
		for k := range arrays {
			arrays[k] += fmt.Sprintf("%s;%d.04.2025;%s\n", tagOf(i), 13+2*k, write(20+i))
		}
	}
	for name, text := range map[string]string{"fish.csv": fish, "Alder.csv": arrays[0], "Tidehead.csv": arrays[1]} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644))
	}
	return dir
}

// A time of day in a column of its own is read as crews write it, and nobody is
// asked for it.
func TestTimesOfDayApartAsCrewsWriteThem(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	for _, c := range []struct{ heading, format string }{
		{"Uhrzeit", "22:%02d Uhr"}, {"kl.", "kl. 22.%02d"}, {"klo", "klo 22.%02d"}, {"Godz.", "godz. 22:%02d"}, {"Heure", "22h%02dm05s"}, {"Time", "22%02d05"}, {"Time", "22%02d"},
		{"Time", "22-%02d-05"}, {"Time", "22:%02d h"}, {"Time", "22:%02d hrs"}, {"Time", "T22:%02d:05"}, {"Time", "'22:%02d:05"}, {"Time", "22:%02d:05 CEST"},
		{"Time", "22:%02d:05:123"}, {"Time", "22:%02d:05."}, {"Time", "10.%02d PM"}, {"Time", "10:%02d:05p"}, {"時刻", "午後10:%02d:05"}, {"x", "午後10時%02d分05秒"},
	} {
		t.Run(c.format, func(t *testing.T) {
			dir := apartDir(t, c.heading, func(minute int) string { return fmt.Sprintf(c.format, minute) })
			p, st := guessIn(t, dir, dir)
			assert.NotContains(t, strings.Join(p.Doubts, "\n"), "time of day", p.Study)
			res, err := ingest.Run(context.Background(), st, ingest.Options{})
			require.NoError(t, err)
			assert.EqualValues(t, 40, res.Accounting.Kept, "after the release at 20:00 of the first day: %s", p.Study)
			for _, f := range res.Findings {
				assert.NotEqual(t, "no_time_of_day", f.ID)
			}
		})
	}
}

// Where the dates of detections stand alone, that is the first thing asked, with
// the column that may be the time; and check says it too.
func TestDatesOfDetectionsAloneAreAsked(t *testing.T) {
	for _, c := range []struct{ heading, format, want string }{
		{"Uhrzeit", "22:%02d Ohr", `The column "Uhrzeit" may hold it, as "22:20 Ohr"; that is not understood`},
		{"Uhrzeit", "22:%02d:05 CET", `may hold it, as "22:20:05 CET"; that is not understood`},
		{"Nr", "22%02d05", `The column "Nr" may hold it, as "222005"; if it does, say columns = { time = { join = ["Datum", "Nr"] } }`},
		{"Volt", "3.9%02d", "the midnight that begins its day"},
	} {
		t.Run(c.format, func(t *testing.T) {
			dir := apartDir(t, c.heading, func(minute int) string { return fmt.Sprintf(c.format, minute) })
			p, st := guessIn(t, dir, dir)
			require.NotEmpty(t, p.Doubts)
			assert.Contains(t, p.Doubts[0], "2 files such as Alder.csv: the dates of the detections have no time of day")
			assert.Contains(t, p.Doubts[0], c.want)
			assert.Equal(t, c.heading == "Volt", !strings.Contains(p.Doubts[0], "The column"))
			res, err := ingest.Run(context.Background(), st, ingest.Options{})
			require.NoError(t, err)
			said := ""
			for _, f := range res.Findings {
				said += f.ID + " " + f.Message + "\n"
			}
			assert.Contains(t, said, "no_time_of_day 2 files have every detection at 00:00:00")
		})
	}
}

// Tables without times are named once for all that are alike, with what stands
// where times were looked for.
func TestTablesWithoutTimesAreNamedOnce(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.Mkdir(filepath.Join(dir, "Alder"), 0o755))
	fish := "tag,released,length\n"
	for i := range 20 {
		fish += fmt.Sprintf("%s,2025-04-03 20:00,%d\n", tagOf(i), 110+i)
		text := fmt.Sprintf("Time;Tag\n17:%02d:07;%s\n17:%02d:09;%s\n", i, tagOf(i), i, tagOf(i))
		require.NoError(t, os.WriteFile(filepath.Join(dir, "Alder", fmt.Sprintf("202504%02d.csv", i+4)), []byte(text), 0o644))
	}
	require.NoError(t, os.WriteFile(filepath.Join(dir, "fish.csv"), []byte(fish), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "odd.csv"), []byte("Tag;Datum\n"+tagOf(1)+";3. Smarch 2025\n"+tagOf(2)+";4. Smarch 2025\n"), 0o644))
	_, err := propose.Study(context.Background(), []string{dir}, dir)
	require.Error(t, err)
	assert.Contains(t, err.Error(), `20 files such as Alder/20250404.csv (no times: the column "Time" has a time of day without a date, as "17:00:07"; add a column with the date, which is not read from a file's name)`)
	assert.Contains(t, err.Error(), `odd.csv (no times: "3. Smarch 2025" in the column "Datum" is not understood; write dates as 2025-05-03)`)
	assert.Equal(t, 1, strings.Count(err.Error(), "Alder/"))
}
