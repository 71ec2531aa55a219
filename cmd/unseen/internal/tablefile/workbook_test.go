package tablefile

import (
	"archive/zip"
	"bytes"
	"io"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
)

// Five sheets, one larger than what is kept in memory: the same bytes twice, and
// nothing left in the temporary folder.
func TestTheSameWorkbookTwice(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	dir := t.TempDir()
	write := func() []byte {
		b, err := NewWorkbook(dir)
		require.NoError(t, err)
		for _, id := range []string{"e", "d", "c", "b", "a"} {
			rows, err := b.Begin(id, []string{"text", "number"})
			require.NoError(t, err)
			n := 3
			if id == "c" {
				n = 600 // 19 MB; the library keeps 16 in memory
			}
			for i := range n {
				require.NoError(t, rows.Add([]Value{T(strings.Repeat("x", 32_000)), N(float64(i) / 3)}))
			}
			require.NoError(t, rows.End())
		}
		var out bytes.Buffer
		require.NoError(t, b.Write(&out))
		require.NoError(t, b.Close())
		return out.Bytes()
	}
	first := write()
	assert.True(t, bytes.Equal(first, write()))
	left, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Empty(t, left)
	f, err := excelize.OpenReader(bytes.NewReader(first))
	require.NoError(t, err)
	defer f.Close()
	assert.Equal(t, []string{"e", "d", "c", "b", "a"}, f.GetSheetList())
	// Fifteen digits are what a spreadsheet keeps, and what the library writes.
	z, err := zip.NewReader(bytes.NewReader(first), int64(len(first)))
	require.NoError(t, err)
	part, err := z.Open("xl/worksheets/sheet3.xml")
	require.NoError(t, err)
	stored, err := io.ReadAll(part)
	require.NoError(t, err)
	assert.True(t, bytes.Contains(stored, []byte("<v>199.666666666667</v>")), "%d bytes, … %.200s", len(stored), stored[max(0, len(stored)-200):])
}

// What a sheet cannot hold is refused, never cut off.
func TestWhatASheetCannotHold(t *testing.T) {
	b, err := NewWorkbook(t.TempDir())
	require.NoError(t, err)
	defer b.Close()
	rows, err := b.Begin("long", []string{"text"})
	require.NoError(t, err)
	require.NoError(t, rows.Add([]Value{T(strings.Repeat("ß", 32767))}))
	require.ErrorContains(t, rows.Add([]Value{T(strings.Repeat("ß", 32768))}), "32767")
	rows.(*sheet).rows = 1_048_574
	require.NoError(t, rows.Add([]Value{T("last")}))
	require.ErrorContains(t, rows.Add([]Value{T("x")}), "the table long has more than the 1048575 rows")
}

func TestOddCells(t *testing.T) {
	b, err := NewWorkbook(t.TempDir())
	require.NoError(t, err)
	defer b.Close()
	rows, err := b.Begin("odd", []string{"=1+1", "b"})
	require.NoError(t, err)
	require.NoError(t, rows.Add([]Value{T("=1+1"), T("a\x00\x1bb\r\n _x0041_ <&>"), {Kind: Moment, Text: "1850-01-01T00:00:00Z", Time: time.Date(1850, 1, 1, 0, 0, 0, 0, time.UTC)}}))
	for _, x := range []float64{1e22, 1e-20, -0.1, math.MaxFloat64, 5e-324, math.Inf(1)} {
		require.NoError(t, rows.Add([]Value{N(x)}))
	}
	require.NoError(t, rows.End())
	var out bytes.Buffer
	require.NoError(t, b.Write(&out))
	f, err := excelize.OpenReader(&out, excelize.Options{RawCellValue: true})
	require.NoError(t, err)
	defer f.Close()
	got, err := f.GetRows("odd")
	require.NoError(t, err)
	assert.Equal(t, [][]string{{"'=1+1", "b"}, {"'=1+1", "a\\u0000\\u001bb\\u000d\n _x0041_ <&>", "1850-01-01T00:00:00Z"}}, got[:2])
	for i, x := range []float64{1e22, 1e-20, -0.1, math.MaxFloat64, 5e-324, math.Inf(1)} {
		is, err := strconv.ParseFloat(got[2+i][0], 64)
		require.NoError(t, err)
		assert.Equal(t, x, is)
	}
}
