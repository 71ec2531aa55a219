package table

import (
	"bytes"
	"context"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const head = "tag,site,antenna,time\n"
const good = "985141421300001,Tidehead,bank,2025-04-05 10:00:00\n"

// longLine is a stream with one very long line between two good ones.
func longLine(length int64) io.Reader {
	x := bytes.Repeat([]byte("x"), 1<<20)
	var parts []io.Reader
	parts = append(parts, strings.NewReader(head+good))
	for ; length > 0; length -= int64(len(x)) {
		parts = append(parts, bytes.NewReader(x))
	}
	return io.MultiReader(append(parts, strings.NewReader("\n"+good+good))...)
}

// A line of two gigabytes is one that is too long; its neighbours are read, with
// their line numbers, and the memory stays small.
func TestTwoGigabyteLine(t *testing.T) {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	size := int64(2 << 30)
	if testing.Short() {
		size /= 16
	}
	b, err := newBlocks(context.Background(), File{Name: "long.csv"}, longLine(size), -1, false)
	require.NoError(t, err)
	require.Equal(t, []string{"tag", "site", "antenna", "time"}, b.Names)
	got := map[int]string{}
	require.NoError(t, b.Each(context.Background(), func(x Block) (bool, error) {
		if x.TooLong {
			got[x.Line] = "too long"
		}
		x.Lines(func(line []byte, number int) bool {
			got[number] = string(line)
			return false
		})
		return false, nil
	}))
	runtime.ReadMemStats(&after)
	line := strings.TrimSuffix(good, "\n")
	assert.Equal(t, map[int]string{2: line, 3: "too long", 4: line, 5: line}, got)
	assert.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(16<<20))
}

func TestFileThatShrinksWhileRead(t *testing.T) {
	path := filepath.Join(t.TempDir(), "array.csv")
	require.NoError(t, os.WriteFile(path, []byte(head+strings.Repeat(good, 100_000)), 0o644))
	b, err := OpenBlocks(context.Background(), File{Path: path, Name: "array.csv"}, true)
	require.NoError(t, err)
	defer b.Close()
	_, err = b.Next(context.Background(), nil)
	require.NoError(t, err)
	require.NoError(t, os.Truncate(path, 1<<20))
	for err == nil {
		_, err = b.Next(context.Background(), nil)
	}
	require.ErrorIs(t, err, io.EOF)
	_, err = b.Finish()
	assert.ErrorContains(t, err, "became shorter")
}

// A block is found again by its place, whatever stands before the header.
func TestBlocksAreFoundAgain(t *testing.T) {
	path := filepath.Join(t.TempDir(), "array.csv")
	require.NoError(t, os.WriteFile(path, []byte("\xef\xbb\xbf\n"+head+strings.Repeat(good, 20_000)+"the last"), 0o644))
	var whole bytes.Buffer
	open := func() *Blocks {
		b, err := OpenBlocks(context.Background(), File{Path: path, Name: "array.csv"}, true)
		require.NoError(t, err)
		t.Cleanup(func() { b.Close() })
		return b
	}
	type start struct {
		place int64
		line  int
		data  string
	}
	var starts []start
	b := open()
	require.NoError(t, b.Each(context.Background(), func(x Block) (bool, error) {
		starts = append(starts, start{b.Place, x.Line, string(x.Data)})
		whole.Write(x.Data)
		return false, nil
	}))
	require.Equal(t, strings.Repeat(good, 20_000)+"the last", whole.String())
	require.Greater(t, len(starts), 3)
	require.Equal(t, 3, starts[0].line)
	for _, s := range starts {
		b := open()
		b.GoTo(s.place, s.line)
		x, err := b.Next(context.Background(), nil)
		require.NoError(t, err)
		require.Equal(t, s.line, x.Line)
		n := min(len(s.data), len(x.Data))
		require.Equal(t, s.data[:n], string(x.Data[:n]))
	}
}
