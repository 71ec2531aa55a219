package ingest

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/history/study"
)

// Slips of typing that would be counted: a length with a digit too many, a release in
// another year, a site under two names.
func TestSlipsThatWouldCount(t *testing.T) {
	table := func(length, released string) string {
		fish := "tag,released,fork_length_mm\n"
		for i := range 12 {
			fish += fmt.Sprintf("98514142130%04d,2025-04-03T20:00Z,%d\n", i, 120+9*i)
		}
		return fish + "985141421309999," + released + "," + length + "\n"
	}
	read := head + "985141421300001,Alder Ford,north,2025-04-05 10:00:00\n985141421300002,Scar Wier,x,2025-04-09 10:00:00\n985141421300002,SCAR  WEIR,x,2025-04-09 10:00:00\n"
	plain, fishless := table("160", "2025-04-03T20:00Z"), []string{"odd_length", "released_after_records", "alike_sites"}
	res, _ := one(t, "", plain, read, Options{})
	for _, id := range fishless {
		assert.Empty(t, found(res, id))
	}
	f := found(res, "unknown_site")
	require.Len(t, f, 1)
	assert.Equal(t, `probably another spelling of "Scar Weir": write aliases = ["SCAR  WEIR", "Scar Wier"] at that [[site]]; else add the site to the study`, f[0].Advice)
	res, _ = one(t, "", plain, head+"985141421300001,Alder Ford,north,2025-04-05 10:00:00\n985141421300002,Bridge,x,2025-04-09 10:00:00\n", Options{})
	f = found(res, "unknown_site")
	require.Len(t, f, 1)
	assert.NotContains(t, f[0].Advice, "aliases = [")

	for _, length := range []string{"1600", "16000", "16", "1.6"} {
		res, _ = one(t, "", table(length, "2025-04-03T20:00Z"), read, Options{})
		f = found(res, "odd_length")
		require.Len(t, f, 1, length)
		assert.Equal(t, "985141421309999: fork_length_mm = "+length, f[0].About)
	}
	res, _ = one(t, "[rules]\noff = [\"odd_length\"]", table("16000", "2025-04-03T20:00Z"), read, Options{})
	assert.Empty(t, found(res, "odd_length"))

	late := table("160", "2026-04-03T20:00Z")
	res, _ = one(t, "", late, read, Options{})
	f = found(res, "released_after_records")
	require.Len(t, f, 1)
	assert.Equal(t, "1 fish released after the last record, of 2025-04-05, cannot have been detected; they count as released", f[0].Message)
	assert.Equal(t, "985141421309999, released 2026-04-03", f[0].About)
	res, _ = one(t, "[rules]\noff = [\"released_after_records\"]", late, read, Options{})
	assert.Empty(t, found(res, "released_after_records"))
	for _, top := range []string{"as_of = 2025-05-01", "last_day = 2025-05-01"} {
		st := studyOf(t, "", late, read)
		text, err := os.ReadFile(st.Path)
		require.NoError(t, err)
		km := string(text)
		for i, s := range []string{"Mill Lade", "Alder Ford", "Scar Weir", "Tidehead"} {
			km = replaceOnce(t, km, fmt.Sprintf("name = %q\n", s), fmt.Sprintf("name = %q\nkm = %d\n", s, 60-20*i))
		}
		require.NoError(t, os.WriteFile(st.Path, []byte(top+"\n"+km), 0o644))
		res, _ = reread(t, st.Path)
		assert.Empty(t, found(res, "released_after_records"), top)
	}

	twice := func(reads string) *Result {
		st := studyOf(t, "", plain, read+reads)
		text, err := os.ReadFile(st.Path)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Clean(st.Path), []byte(replaceOnce(t, string(text), "[rules]", "[[site]]\nname = \"Scar-Wier\"\n[rules]")), 0o644))
		res, err := reread(t, st.Path)
		require.NoError(t, err)
		return res
	}
	f = found(twice(""), "alike_sites")
	require.Len(t, f, 1)
	assert.Equal(t, `if they are one place, keep one [[site]] with aliases = ["Scar-Wier"] in it, and take out the other`, f[0].Advice)
	assert.Empty(t, found(twice("985141421300003,Scar Weir,x,2025-04-09 10:00:00\n985141421300003,Scar-Wier,x,2025-04-11 10:00:00\n"), "alike_sites"), "a fish came to both")
}

func replaceOnce(t *testing.T, text, old, with string) string {
	t.Helper()
	require.Equal(t, 1, strings.Count(text, old), old)
	return strings.Replace(text, old, with, 1)
}

func reread(t *testing.T, path string) (*Result, error) {
	t.Helper()
	st, err := study.Load(path)
	require.NoError(t, err)
	return Run(context.Background(), st, Options{})
}
