package ingest

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/klauspost/compress/zstd"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/history/study"
)

// One bit turned over in an array file is noticed or changes nothing.
func TestATurnedBitInAnArrayFile(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	for _, ending := range []string{".xlsx", ".csv.gz", ".csv.zst"} {
		t.Run(ending, func(t *testing.T) {
			w := cleanWorld(3)
			st := w.write(t, way{ending: ending})
			path := filepath.Join(filepath.Dir(st.Path), "arrays", "00"+ending)
			data, err := os.ReadFile(path)
			require.NoError(t, err)
			want := ingestWorld(t, st, Options{})
			rnd := rand.New(rand.NewPCG(15, uint64(len(ending))))
			refused, harmless := 0, 0
			for i := range 300 {
				at := rnd.IntN(len(data))
				if i%3 == 2 {
					at = min(at%200, len(data)-1)
				}
				damaged := bytes.Clone(data)
				damaged[at] ^= 1 << rnd.IntN(8)
				require.NoError(t, os.WriteFile(path, damaged, 0o644))
				got, err := Run(t.Context(), st, Options{})
				switch {
				case err != nil:
					refused++
				case said(want) == said(got):
					harmless++
				default:
					t.Errorf("byte %d of %d: another result, and no error", at, len(data))
				}
			}
			t.Logf("%d bytes: %d refused, %d harmless", len(data), refused, harmless)
			assert.Greater(t, refused, 150, "few flips were noticed: most bytes hold the records")
			for tenth := range 10 {
				require.NoError(t, os.WriteFile(path, data[:len(data)*tenth/10], 0o644))
				_, err := Run(t.Context(), st, Options{})
				assert.Error(t, err, "cut at %d tenths", tenth)
			}
		})
	}
}

// said is all that a result says of the fish and the records; numbers that are
// missing equal each other there.
func said(r *Result) string { return fmt.Sprintf("%+v %+v", *r.Histories, r.Accounting) }

func findingIDs(res *Result) []string {
	var out []string
	for _, f := range res.Findings {
		out = append(out, f.ID+" "+f.About+" "+f.Message)
	}
	return out
}

func TestFilesWithoutAChecksumAreTold(t *testing.T) {
	w := cleanWorld(3)
	st := w.write(t, way{ending: ".csv.zst", files: 2})
	assert.NotContains(t, strings.Join(findingIDs(ingestWorld(t, st, Options{})), "\n"), "no_checksum")
	path := filepath.Join(filepath.Dir(st.Path), "arrays", "01.csv.zst")
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	r, err := zstd.NewReader(nil)
	require.NoError(t, err)
	text, err := r.DecodeAll(data, nil)
	require.NoError(t, err)
	z, err := zstd.NewWriter(nil, zstd.WithEncoderCRC(false))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, z.EncodeAll(text, nil), 0o644))
	assert.Contains(t, findingIDs(ingestWorld(t, st, Options{})), "no_checksum arrays/01.csv.zst 1 file compressed without a checksum: damage cannot be noticed")
}

// A folder that cannot be looked into is an error with its path; one without a
// table, among others that a glob matches, a note.
func TestFoldersOfAGlob(t *testing.T) {
	st := tinyStudy(t, head+good)
	dir := filepath.Dir(st.Path)
	name := func(pattern string) {
		st.Sightings[0].Files, st.Sightings[0].Written = []string{filepath.Join(dir, pattern)}, []string{pattern}
	}
	for _, sub := range []string{"arrays/a", "arrays/b"} {
		require.NoError(t, os.MkdirAll(filepath.Join(dir, sub), 0o755))
	}
	require.NoError(t, os.WriteFile(filepath.Join(dir, "arrays/a/x.csv"), []byte(head+good), 0o644))
	for _, pattern := range []string{"arrays/*", "arrays", "arrays/*/*.csv", "*/a/x.csv"} {
		name(pattern)
		res, err := Run(t.Context(), st, Options{})
		require.NoError(t, err, pattern)
		assert.EqualValues(t, 1, res.Accounting.Read, pattern)
		if pattern == "arrays/*" {
			assert.Contains(t, res.Notes, "no table in arrays/b")
		}
	}
	name("arrays/b*")
	_, err := Run(t.Context(), st, Options{})
	assert.ErrorContains(t, err, `the folder "arrays/b*" holds no table`)
	name("arrays/[")
	_, err = Run(t.Context(), st, Options{})
	assert.ErrorContains(t, err, "is no pattern of file names")
	// A link that leads to itself cannot be followed by anybody, root or not.
	require.NoError(t, os.Symlink("loop", filepath.Join(dir, "arrays", "loop")))
	for _, pattern := range []string{"arrays/*/*.csv", "arrays/*"} {
		name(pattern)
		_, err = Run(t.Context(), st, Options{})
		assert.ErrorContains(t, err, filepath.Join(dir, "arrays", "loop"), pattern)
	}
	// A link to a folder is one.
	require.NoError(t, os.Remove(filepath.Join(dir, "arrays", "loop")))
	require.NoError(t, os.Symlink("arrays/a", filepath.Join(dir, "link")))
	name("link")
	res, err := Run(t.Context(), st, Options{})
	require.NoError(t, err)
	assert.EqualValues(t, 1, res.Accounting.Read)
}

func TestMistypedOptionalColumnsAreTold(t *testing.T) {
	w := cleanWorld(3)
	st := w.write(t, way{ending: ".csv"})
	assert.NotContains(t, strings.Join(findingIDs(ingestWorld(t, st, Options{})), "\n"), "near_name")
	for _, c := range [][3]string{
		{"fish.csv", ",died", ",dieed"},
		{"arrays/00.csv", ",antenna", ",antena"},
	} {
		path := filepath.Join(filepath.Dir(st.Path), c[0])
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		require.Contains(t, string(text), c[1], c[0])
		require.NoError(t, os.WriteFile(path, []byte(strings.Replace(string(text), c[1], c[2], 1)), 0o644))
		again, err := study.Load(st.Path)
		require.NoError(t, err)
		res := ingestWorld(t, again, Options{})
		assert.Contains(t, findingIDs(res), fmt.Sprintf("near_name %s column %q of %s is not read as %q, which it resembles", c[0], c[2][1:], c[0], c[1][1:]))
		require.NoError(t, os.WriteFile(path, text, 0o644))
	}
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "t.csv"), []byte("A,B,counts\n1,0,1\n1,1,1\n"), 0o644))
	toml := "[histories]\nfile = \"t.csv\"\n[[site]]\nname = \"A\"\n[[site]]\nname = \"B\"\n"
	require.NoError(t, os.WriteFile(filepath.Join(dir, "study.toml"), []byte(toml), 0o644))
	ready, err := study.Load(filepath.Join(dir, "study.toml"))
	require.NoError(t, err)
	assert.Equal(t, []string{`near_name t.csv column "counts" of t.csv is not read as "count", which it resembles`}, findingIDs(ingestWorld(t, ready, Options{})))
}
