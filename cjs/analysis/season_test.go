package analysis

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
	"example.org/unseen/history/ingest"
)

// young is a season of three fish whose last record is its last moment.
func young(t *testing.T, asOf time.Time) *Data {
	t.Helper()
	dir := t.TempDir()
	for name, text := range map[string]string{
		"study.toml": "time_zone = \"Europe/Dublin\"\n[fish]\nfile = \"fish.csv\"\n[sightings]\nfiles = [\"a.csv\"]\n" +
			"[[site]]\nname = \"Mill Lade\"\nkm = 50\n[[site]]\nname = \"Scar Weir\"\nkm = 20\n[[site]]\nname = \"Tidehead\"\nkm = 0\n",
		"fish.csv": "tag,released\n985141421300001,2025-05-01 12:00\n985141421300002,2025-05-01 12:00\n985141421300003,2025-05-02 12:00\n",
		"a.csv":    "tag,site,time\n985141421300001,Scar Weir,2025-05-04 10:00:00\n985141421300001,Tidehead,2025-05-06 10:00:00\n985141421300002,Tidehead,2025-05-06 10:00:00\n",
	} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644))
	}
	d, err := Open(t.Context(), filepath.Join(dir, "study.toml"), ingest.Options{AsOf: asOf})
	require.NoError(t, err)
	return d
}

// A season that ends before the first step of the replay is looked at where it
// stands; where nothing was seen by then it is said in words, with the day.
func TestSeasonTooYoungToReplay(t *testing.T) {
	dublin, err := time.LoadLocation("Europe/Dublin")
	require.NoError(t, err)
	asOf := history.DayStart(2025, 5, 4, dublin)
	d := young(t, asOf)
	days := d.ReplayDays(7)
	assert.Equal(t, []time.Time{asOf}, days)
	_, err = d.Season(t.Context(), model.Spec{Survival: "reach", Detection: "same"}, Options{}, days, nil)
	assert.EqualError(t, err, "nothing can be said yet: on none of the days looked at could anything be estimated; by the last, 3 May 2025: 3 fish released and 0 detections by then: nothing to estimate from")
	_, err = d.Season(t.Context(), model.Spec{}, Options{}, nil, nil)
	assert.ErrorContains(t, err, "no day to replay")
}

// The days of a season that is over reach to its last record, which counts.
func TestSeasonThatIsOver(t *testing.T) {
	d := young(t, time.Time{})
	days := d.ReplayDays(3)
	s, err := d.Season(t.Context(), model.Spec{Survival: "reach", Detection: "same"}, Options{}, days, nil)
	require.NoError(t, err)
	last := s.Days[len(s.Days)-1]
	assert.Equal(t, 3, last.Seen)
	assert.Equal(t, 3, last.Released)
}
