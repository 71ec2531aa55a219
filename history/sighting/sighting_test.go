package sighting

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/stretchr/testify/require"

	"example.org/unseen/history/fishtable"
	"example.org/unseen/history/rule"
	"example.org/unseen/history/study"
	"example.org/unseen/history/table"
	"example.org/unseen/history/tagindex"
	"example.org/unseen/testdata/pieces"
)

const head = "tag,site,antenna,time"
const good = "985141421300001,Tidehead,bank,2025-04-05 10:00:00\n"

// tinyRun is a reading of the sightings of one fish.
func tinyRun(t testing.TB) *run {
	dir := t.TempDir()
	for name, s := range map[string]string{
		"fish.csv": "tag,released\n985141421300001,2025-04-03T20:00Z\n", "array.csv": head + "\n" + good,
		"study.toml": "[fish]\nfile = \"fish.csv\"\n[sightings]\nfiles = [\"array.csv\"]\n[[site]]\nname = \"Mill Lade\"\n[[site]]\nname = \"Alder Ford\"\n" +
			"rows = { upper = [\"north\"], lower = [\"south\"] }\n[[site]]\nname = \"Scar Weir\"\n[[site]]\nname = \"Tidehead\"\n",
	} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(s), 0o644))
	}
	st, err := study.Load(filepath.Join(dir, "study.toml"))
	require.NoError(t, err)
	opt := Options{Season: rule.SeasonOf(st, time.Time{}), Workers: 1}
	fish, err := fishtable.Read(t.Context(), st, opt.Season, tagindex.Form{}, 1)
	require.NoError(t, err)
	r, err := prepare(st, fish, opt)
	require.NoError(t, err)
	return r
}

// A line that is too long is one unreadable record.
func TestLineTooLongIsUnreadable(t *testing.T) {
	r := tinyRun(t)
	l, err := newLayout(strings.Split(head, ","), ',', r.st.Sightings[0])
	require.NoError(t, err)
	var got []record
	r.judge.newReader().eachBatch(&block{Block: table.Block{Line: 7, TooLong: true}, layout: l}, func(recs []record) { got = append(got, recs...) })
	require.Len(t, got, 1)
	require.Equal(t, rule.Unreadable, got[0].rule)
	require.Equal(t, 7, got[0].line)
}

var someSightings = []string{
	good,
	"985141421300001,\"Tidehead\",bank,2025-04-05 10:00:00\r\n\n\"x\n,,,\n",
	"3D9.20ED5EA4CD,Alder Ford,north,5/4/2025 10:00\n\x00",
	good + "\u202f\n\u2028", // blanks of several bytes
	"985141421300001,Alder Ford,north,2025-04-05 10:00:00\n985141421300001,Alder Ford,south,2025-04-05 10:00:01\n3D9.20ED5D4D11,Mill Lade,south,2025-04-05T10:00:01Z\n",
}

func FuzzSightings(f *testing.F) { pieces.Fuzz(f, everyRecordInABox(f), someSightings...) }

func TestComposedSightings(t *testing.T) {
	check := everyRecordInABox(t)
	pieces.Texts(t, 100, check, someSightings...)
	pieces.Each(t, 100, func(c *pieces.Composer) { check(t, []byte(c.Cells(","))) })
}

// everyRecordInABox reads text as records of sightings: as many as there are lines
// that are not blank, and each in one box.
func everyRecordInABox(t testing.TB) func(t *testing.T, text []byte) {
	r := tinyRun(t)
	l, err := newLayout(strings.Split(head, ","), ',', r.st.Sightings[0])
	require.NoError(t, err)
	path := filepath.Join(t.TempDir(), "array.csv")
	return func(t *testing.T, text []byte) {
		least, most := nonBlank(text)
		cells := newCells(len(r.cells.late))
		w := newWorker(r.judge, cells)
		require.NoError(t, os.WriteFile(path, append([]byte(head+"\n"), text...), 0o644))
		defer os.Remove(path) // to write it anew is slow
		b, err := table.OpenBlocks(t.Context(), table.File{Path: path, Name: "array.csv"}, false)
		require.NoError(t, err)
		defer b.Close()
		l.delim = b.Delimiter
		require.NoError(t, b.Each(t.Context(), func(x table.Block) (bool, error) {
			w.block(&block{Block: x, layout: l})
			return false, nil
		}))
		w.cells.finish()
		require.GreaterOrEqual(t, w.records, least)
		require.LessOrEqual(t, w.records, most)
		sum := int64(0)
		for i := range w.boxes {
			sum += w.boxes[i].n
		}
		for i := range cells.late {
			sum += cells.passage(i).reads
		}
		require.Equal(t, w.records, sum, "every record is in one box")
		sameEitherWay(t, r, l, text)
	}
}

// nonBlank is how many lines of a text are records, at least and at most. In
// UTF-8 both are the same. In a code page a byte above 127 may be a blank or the
// first half of one; what is below 64 never is part of another character.
func nonBlank(text []byte) (least, most int64) {
	unicode := utf8.Valid(text)
	for line := range bytes.SplitSeq(text, []byte("\n")) {
		if len(bytes.TrimSpace(line)) == 0 {
			continue
		}
		most++
		if unicode || bytes.ContainsFunc(line, func(r rune) bool { return r > ' ' && r < '@' }) {
			least++
		}
	}
	return least, most
}

// sameEitherWay takes a block apart as lines without quotes and as any lines,
// which a last line with a quote asks for.
func sameEitherWay(t *testing.T, r *run, l *layout, text []byte) {
	if bytes.ContainsAny(text, "\"\x00") || len(text) == 0 {
		return
	}
	judged := func(data []byte) (out []record) {
		c := r.judge.newReader()
		added := 0 // the line that is a quote
		if bytes.HasSuffix(data, []byte("\"\n")) {
			added = bytes.Count(data, []byte("\n"))
		}
		c.eachBatch(&block{Block: table.Block{Data: data, Line: 1}, layout: l}, func(recs []record) {
			for _, r := range recs {
				if r.rule == rule.Unreadable && r.line == added {
					continue
				}
				// What is kept of a record on its way is not what it says.
				r.recent, r.since, r.parts = 0, 0, parts{}
				out = append(out, r)
			}
		})
		return out
	}
	together := judged(bytes.Clone(text))
	require.Equal(t, together, judged(append(bytes.TrimSuffix(bytes.Clone(text), []byte("\n")), "\n\"\n"...)))
	// What was read before does not change what is made of a line.
	for n, line := range bytes.Split(text, []byte("\n")) {
		alone := judged(append(bytes.Clone(line), '\n'))
		if n > 20 {
			break
		}
		if len(alone) == 0 {
			continue
		}
		alone[0].line = n + 1
		require.Equal(t, together[0], alone[0])
		together = together[1:]
	}
}
