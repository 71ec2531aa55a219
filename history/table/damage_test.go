package table_test

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"testing"
	"time"

	"github.com/klauspost/compress/zstd"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"example.org/unseen/history/study"
	"example.org/unseen/history/table"
)

// season is a table of some thousand fish, large enough for several blocks of
// any compression.
func season(rows int) (text string, cells [][]any) {
	rnd := rand.New(rand.NewPCG(7, 7))
	var b bytes.Buffer
	b.WriteString("tag,length,batch\n")
	cells = [][]any{{"tag", "length", "batch"}}
	for i := range rows {
		length, batch := rnd.IntN(80)+60, fmt.Sprint("batch ", rnd.IntN(1000))
		fmt.Fprintf(&b, "T%05d,%d,%s\n", i, length, batch)
		cells = append(cells, []any{fmt.Sprintf("T%05d", i), length, batch})
	}
	return b.String(), cells
}

// content is what a file says, or why it is refused.
func content(data []byte) ([]record, error) {
	x, err := table.New("t", bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	defer x.Close()
	rows := all(x)
	return append([]record{{fields: x.Header}}, rows...), x.Err()
}

// One bit turned over anywhere in a file that carries a sum is noticed, or
// changes nothing: 300 of the whole file, and 100 each of its first and last
// 200 bytes, where the containers keep their own books.
func TestATurnedBitIsNoticed(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	text, cells := season(1800)
	for name, data := range map[string][]byte{
		"workbook": workbook(t, cells, []string{"first"}),
		"gzip":     zipped(t, text),
		"zstd":     zstandard(t, text),
	} {
		t.Run(name, func(t *testing.T) {
			want, err := content(data)
			require.NoError(t, err)
			require.Len(t, want, 1801)
			rnd := rand.New(rand.NewPCG(15, uint64(len(name))))
			refused, harmless := 0, 0
			for i := range 500 {
				at := rnd.IntN(len(data))
				switch {
				case i >= 400:
					at = len(data) - 1 - rnd.IntN(200)
				case i >= 300:
					at = rnd.IntN(200)
				}
				bit := byte(1) << rnd.IntN(8)
				damaged := bytes.Clone(data)
				damaged[at] ^= bit
				got, err := content(damaged)
				switch {
				case err != nil:
					refused++
				case reflect.DeepEqual(want, got):
					harmless++
				default:
					t.Errorf("byte %d of %d, bit %08b: %d of %d records, and no error", at, len(data), bit, len(got), len(want))
				}
			}
			t.Logf("%d bytes: %d refused, %d harmless", len(data), refused, harmless)
			assert.Greater(t, refused, 300, "few flips were noticed: most bytes hold the records")
		})
	}
}

// The middle of a workbook and its books at the end are looked at everywhere.
func TestEveryByteOfASmallWorkbook(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	data := workbook(t, [][]any{{"tag", "batch"}, {"A1", "early"}, {"A2", "late"}}, []string{"first", "second"})
	want, err := content(data)
	require.NoError(t, err)
	for at := range data {
		damaged := bytes.Clone(data)
		damaged[at] ^= 1 << (at % 8)
		if got, err := content(damaged); err == nil {
			require.Equal(t, want, got, "byte %d of %d", at, len(data))
		}
	}
}

func TestACutFileIsNoticed(t *testing.T) {
	text, cells := season(1800)
	for name, data := range map[string][]byte{
		"workbook": workbook(t, cells, []string{"first"}), "gzip": zipped(t, text), "zstd": zstandard(t, text),
	} {
		for tenth := range 10 {
			_, err := content(data[:len(data)*tenth/10])
			assert.Error(t, err, "%s cut at %d tenths", name, tenth)
		}
		_, err := content(data[:len(data)-1])
		assert.Error(t, err, "%s without its last byte", name)
	}
}

// A part whose sum is right and whose XML is not.
func TestAWorkbookWhoseXMLEndsEarly(t *testing.T) {
	_, cells := season(50)
	data := workbook(t, cells, []string{"first"})
	for _, x := range [][2]string{
		{`<row r="20"`, `<rowr="20"<`}, {`</sheetData>`, ``}, {`</sheetData>`, `</sheetDatx>`},
		{`</c></row>`, `</row></c>`}, {`</row><row r="20"`, `</rox><row r="20"`}, {`<c r="A20"`, `<d r="A20"`},
	} {
		_, err := content(repacked(t, data, "xl/worksheets/sheet1.xml", x[0], x[1]))
		assert.ErrorContains(t, err, "xl/worksheets/sheet1.xml is damaged", x[1])
	}
	_, err := content(repacked(t, data, "xl/workbook.xml", "sheets", "sheets"))
	assert.NoError(t, err, "packed again and unchanged")
}

// Cells that name a text which is not among those they share, and cells whose
// formula nobody has worked out, are no empty cells.
func TestCellsWithoutTheirValue(t *testing.T) {
	f := excelize.NewFile()
	for row, cells := range [][]any{{"tag", "length"}, {"T1", 71}, {"T2"}} {
		require.NoError(t, f.SetSheetRow("Sheet1", fmt.Sprint("A", row+1), &cells))
	}
	data := saved(t, f)
	_, err := content(data)
	require.NoError(t, err)
	for now, why := range map[string]string{
		`<v>99</v>`: "cell A3 of its part xl/worksheets/sheet1.xml names text 100 of the 4",
		`<v>-1</v>`: `its cell A3 names text "-1"`,
		`<v>T2</v>`: `its cell A3 names text "T2"`,
	} {
		_, err := content(repacked(t, data, "xl/worksheets/sheet1.xml", `<v>3</v>`, now))
		assert.ErrorContains(t, err, why)
	}

	require.NoError(t, f.SetCellFormula("Sheet1", "B3", "B2+1"))
	data = saved(t, f)
	_, err = content(data)
	assert.ErrorContains(t, err, `sheet "Sheet1": cell B3 has a formula whose value was never worked out`)
	for solved, value := range map[string]string{`<f>B2+1</f><v>72</v>`: "72", `<f>B2+1</f><v></v>`: ""} { // t="str" is excelize's
		rows, err := content(repacked(t, data, "xl/worksheets/sheet1.xml", `<f>B2+1</f>`, solved))
		require.NoError(t, err)
		assert.Equal(t, value, rows[2].fields[1])
	}
	_, err = content(repacked(t, data, "xl/worksheets/sheet1.xml", ` t="str"><f>B2+1</f>`, `><f>B2+1</f><v></v>`))
	assert.ErrorContains(t, err, "never worked out", "a number cannot be empty")
	// Of a sheet that is not read it is no matter.
	_, err = f.NewSheet("fish")
	require.NoError(t, err)
	require.NoError(t, f.SetCellValue("fish", "A1", "tag"))
	f.SetActiveSheet(1)
	path := filepath.Join(t.TempDir(), "fish.xlsx")
	require.NoError(t, os.WriteFile(path, saved(t, f), 0o644))
	x, err := table.OpenFor(t.Context(), &study.Table{File: path, Written: path, Reading: study.Reading{Sheet: "fish"}})
	require.NoError(t, err)
	assert.Equal(t, []string{"tag"}, x.Header)
	require.NoError(t, x.Close())
}

func saved(t *testing.T, f *excelize.File) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, f.Write(&b))
	return b.Bytes()
}

func TestManyColumnsTakeNoTime(t *testing.T) {
	var b bytes.Buffer
	n := 100_000
	if testing.Short() {
		n /= 5
	}
	for i := range n {
		fmt.Fprintf(&b, "c%06d,", i)
	}
	b.WriteString("tag\n")
	start := time.Now()
	x, err := table.New("t.csv", &b)
	require.NoError(t, err)
	require.Len(t, x.Header, n+1)
	columns, _ := table.MapColumns(x, &study.Table{}).Attributes()
	require.Len(t, columns, n+1)
	// Quadratic searches took minutes.
	assert.Less(t, time.Since(start), 5*time.Second)
}

func TestBarsPartFields(t *testing.T) {
	x := open(t, "tag|length|batch\nA1|71,5|early, wet\nA2|60|late\n")
	assert.Equal(t, []string{"tag", "length", "batch"}, x.Header)
	require.True(t, x.Next())
	v, ok := x.Number(1)
	assert.True(t, ok)
	assert.Equal(t, 71.5, v)
	assert.Equal(t, "early, wet", x.Field(2))
	assert.Equal(t, []string{"t.csv: fields parted by bars, decimal comma"}, x.Notes())
	// A bar within a name is no delimiter where commas part more.
	assert.Equal(t, []string{"tag|pit", "length", "batch"}, open(t, "tag|pit,length,batch\nA1,1,x\nA2,2,y|z\n").Header)
}

func unsummed(t *testing.T, text string) []byte {
	t.Helper()
	var b bytes.Buffer
	w, err := zstd.NewWriter(&b, zstd.WithEncoderCRC(false))
	require.NoError(t, err)
	_, err = w.Write([]byte(text))
	require.NoError(t, err)
	require.NoError(t, w.Close())
	return b.Bytes()
}

func TestZstandardWithoutASumIsTold(t *testing.T) {
	x, err := table.New("fish.zst", bytes.NewReader(unsummed(t, "tag,batch\nA1,x\n")))
	require.NoError(t, err)
	all(x)
	require.NoError(t, x.Err())
	assert.Equal(t, []string{"fish.zst: compressed without a checksum, so damage cannot be noticed; compress it again with one"}, x.Notes())
	x, err = table.New("fish.zst", bytes.NewReader(zstandard(t, "tag,batch\nA1,x\n")))
	require.NoError(t, err)
	assert.Empty(t, x.Notes())
}

// repacked is a workbook in which one part was changed, its sum being right
// again.
func repacked(t *testing.T, data []byte, part, old, now string) []byte {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	require.NoError(t, err)
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, f := range z.File {
		r, err := f.Open()
		require.NoError(t, err)
		text, err := io.ReadAll(r)
		require.NoError(t, err)
		if f.Name == part {
			require.Contains(t, string(text), old)
			text = bytes.Replace(text, []byte(old), []byte(now), 1)
		}
		out, err := w.Create(f.Name)
		require.NoError(t, err)
		_, err = out.Write(text)
		require.NoError(t, err)
	}
	require.NoError(t, w.Close())
	return b.Bytes()
}
