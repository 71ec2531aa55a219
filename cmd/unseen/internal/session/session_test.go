package session

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/model"
	"example.org/unseen/history/ingest"
)

const studyFile = `
[histories]
file = "h.csv"
[[site]]
name = "Mill Lade"
[[site]]
name = "Alder Ford"
rows = ["upper", "lower"]
[[site]]
name = "Scar Weir"
[[test_passes]]
site = "Scar Weir"
passes = 60
read = 41
[[hold]]
reach = "Alder Ford to Scar Weir"
survival = 0.9
where = { sex = "f" }
[[hold]]
site = "Alder Ford"
row = "lower"
detection = 0.25
[[model]]
name = "one"
survival = "same"
[[model]]
name = "two"
detection = "site"
detection_link = "linear"
`

func open(t *testing.T) *Data {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "study.toml"), []byte(studyFile), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "h.csv"), []byte(
		"sex,Mill Lade,Alder Ford/upper,Alder Ford/lower,Scar Weir\nf,1,1,0,1\nm,1,0,1,0\n"), 0o644))
	d, err := Open(t.Context(), filepath.Join(dir, "study.toml"), ingest.Options{})
	require.NoError(t, err)
	return d
}

func TestSpec(t *testing.T) {
	d := open(t)
	for _, c := range []struct {
		choice Choice
		want   model.Spec
		err    string
	}{
		{Choice{}, model.Spec{Name: "one", Survival: "same"}, ""},
		{Choice{Name: "two"}, model.Spec{Name: "two", Detection: "site", DetectionLink: "linear"}, ""},
		{Choice{Survival: "reach", DetectionLink: "logit"}, model.Spec{Survival: "reach", DetectionLink: "logit"}, ""},
		{Choice{Name: "tow"}, model.Spec{}, `no model "tow"; its models are "one", "two"`},
		{Choice{Name: "two", Survival: "same"}, model.Spec{}, "not both"},
	} {
		got, err := d.Spec(c.choice)
		if c.err != "" {
			require.ErrorContains(t, err, c.err)
			continue
		}
		require.NoError(t, err)
		assert.Equal(t, c.want, got)
	}
	d.Study.Models = nil
	got, err := d.Spec(Choice{})
	require.NoError(t, err)
	assert.Equal(t, model.Spec{}, got, "without a model the default is fitted")
}

func TestFilesAreFoundBesideTheStudy(t *testing.T) {
	d := open(t)
	for _, f := range d.Files() {
		assert.FileExists(t, f)
	}
	assert.Len(t, d.Files(), 2)
}
