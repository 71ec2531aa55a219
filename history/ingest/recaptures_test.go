package ingest

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/history"
	"example.org/unseen/history/growth"
	"example.org/unseen/history/study"
)

// recaptureStudy writes a study of sightings with three fish and the given
// recaptures, and reads it.
func recaptureStudy(t *testing.T, top, columns, recaptures string) (*study.Study, *growth.Recaptures, error) {
	t.Helper()
	dir := t.TempDir()
	write := func(name, text string) {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644))
	}
	write("fish.csv", "tag,released,fork_length_mm,weight_g\n999041000000031,2025-04-03 21:00,162,48.7\n999041000000042,2025-04-03 21:00,147,28.8\n999041000000065,2025-04-03 21:00,147,29.4\n")
	write("seen.csv", "tag,site,time\n999041000000031,Tidehead,2025-04-09 03:00:00\n")
	write("again.csv", recaptures)
	text := top + "time_zone = \"Europe/Dublin\"\n[fish]\nfile = \"fish.csv\"\naliases = { \"999041000009999\" = \"999041000000065\" }\n[sightings]\nfiles = [\"seen.csv\"]\n[recaptures]\nfile = \"again.csv\"\n" +
		columns + "[[site]]\nname = \"Mill Lade\"\n[[site]]\nname = \"Tidehead\"\n"
	st, err := study.Parse(filepath.Join(dir, "study.toml"), []byte(text))
	if err != nil {
		return nil, nil, err
	}
	r, err := Run(context.Background(), st, Options{})
	require.NoError(t, err)
	caught, inputs, err := ReadRecaptures(t.Context(), st, r.Histories)
	if err == nil {
		assert.Equal(t, "again.csv", inputs[0].File)
	}
	return st, caught, err
}

func TestReadRecaptures(t *testing.T) {
	_, r, err := recaptureStudy(t, "as_of = 2025-07-02T11:00:00Z\n", "columns = { fork_length_mm = \"FL\" }\n",
		"tag;date;site;FL;weight_g\n"+
			"3E7.0009896B7F;20/04/2025;Scar Weir;165,5;50\n"+ // a tag of no fish
			"999041000000042;20/04/2025;Scar Weir;150,5;31,2\n"+
			"999041000000042;20/04/2025;Scar Weir;150,5;31,2\n"+ // again
			"999041000009999;21/04/2025 06:30;;151;NA\n"+ // a second tag
			"999041000000031;02/07/2025;Tidehead;199;80\n"+ // noon of that day is as_of
			"999041000000031;22/04/2025;Tidehead;;\n"+ // not measured
			"999041000000031;22/04/2025;Tidehead;170;\n")
	require.NoError(t, err)
	assert.Equal(t, "fork_length_mm", r.Length)
	ms := func(s string) int64 {
		v, err := time.Parse(time.RFC3339, s)
		require.NoError(t, err)
		return v.UnixMilli()
	}
	require.Len(t, r.Captures, 3)
	// Dublin is an hour before UTC in summer; a date alone is its noon.
	assert.Equal(t, growth.Capture{Fish: 1, Time: ms("2025-04-20T12:00:00+01:00"), Place: "Scar Weir", LengthMM: 150.5, WeightG: 31.2, Line: 3}, r.Captures[0])
	c := r.Captures[1]
	assert.Equal(t, int32(2), c.Fish)
	assert.Equal(t, ms("2025-04-21T06:30:00+01:00"), c.Time)
	assert.Empty(t, c.Place)
	assert.True(t, math.IsNaN(c.WeightG))
	assert.Equal(t, 8, r.Captures[2].Line)
	a := r.Accounting
	assert.Equal(t, int64(7), a.Read)
	assert.Equal(t, a.Read, a.Sum())
	assert.Equal(t, int64(1), a.Repeats)
	var rules []string
	for _, b := range a.SetAside {
		rules = append(rules, b.Rule)
		assert.Equal(t, int64(1), b.Records)
		assert.Contains(t, b.Example, "again.csv:")
	}
	assert.Equal(t, []string{"unknown_tag", "after_as_of", "not_measured"}, rules)
	assert.Equal(t, []int64{0, 1, 1}, []int64{a.SetAside[0].Fish, a.SetAside[1].Fish, a.SetAside[2].Fish})
}

func TestReadRecapturesLastDay(t *testing.T) {
	_, r, err := recaptureStudy(t, "last_day = 2025-04-20\n", "", "tag,date,length_mm\n999041000000042,2025-04-20 23:59,150\n999041000000042,2025-04-21 00:00,150\n")
	require.NoError(t, err)
	require.Len(t, r.Captures, 1)
	assert.Equal(t, "length_mm", r.Length)
	assert.Equal(t, "after_last_day", r.Accounting.SetAside[0].Rule)
}

// All that is wrong is said at once, with its line.
func TestReadRecapturesRefuses(t *testing.T) {
	for _, c := range []struct {
		name, top, columns, table string
		want                      []string
	}{
		{"cells", "", "", "tag,date,length_mm,weight_g\n,2025-04-20,150,3\nnonsense,2025-04-20,150,3\n999041000000042,,x,0\n999041000000042,2025-13-20,-1,3\n",
			[]string{`again.csv:2: column "tag": the tag is missing`, `again.csv:3: column "tag": "nonsense"`, `again.csv:4: column "date": the date is missing`, `again.csv:4: column "length_mm": "x" is not a number`,
				`again.csv:4: column "weight_g": "0": a length or weight is above 0`, `again.csv:5: column "length_mm": "-1"`, `again.csv:5: column "date": "2025-13-20"`}},
		{"no measure", "", "", "tag,date,kg\n1,2,3\n", []string{`no column with a length (fork_length_mm, total_length_mm, length_mm) or weight_g; the table has tag, date, kg`}},
		{"two lengths", "", "", "tag,date,length_mm,fork_length_mm\n1,2,3,4\n", []string{`the table has fork_length_mm and length_mm; name the one to use`}},
		{"no date", "", "", "tag,Date,length_mm\n1,2,3\n", []string{`no column "date"; the table has tag, Date, length_mm; did you mean "Date"?`}},
		{"unknown name", "", "columns = { forklength = \"FL\" }\n", "tag,date,FL\n1,2,3\n", []string{`[recaptures] has no column "forklength"; there are: tag, date, site, fork_length_mm`}},
		{"empty", "", "", "tag,date,length_mm\n", []string{"the table has a header but no record"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, r, err := recaptureStudy(t, c.top, c.columns, c.table)
			assert.Nil(t, r)
			require.Error(t, err)
			for _, want := range c.want {
				assert.Contains(t, err.Error(), want)
			}
		})
	}
	_, _, err := ReadRecaptures(t.Context(), &study.Study{Recaptures: &study.Table{}}, &history.Histories{})
	assert.ErrorContains(t, err, `give the histories a column "fish"`)
	_, _, err = ReadRecaptures(t.Context(), &study.Study{}, &history.Histories{})
	assert.ErrorContains(t, err, "no [recaptures]")
}
