package table_test

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/klauspost/compress/zstd"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	textunicode "golang.org/x/text/encoding/unicode"
	"golang.org/x/text/encoding/unicode/utf32"

	"example.org/unseen/history"
	"example.org/unseen/history/internal/dialect"
	"example.org/unseen/history/study"
	"example.org/unseen/history/table"
	"example.org/unseen/testdata/pieces"
)

// record is what was read: the line and the fields.
type record struct {
	line   int
	fields []string
}

func all(t *table.Table) []record {
	var out []record
	for t.Next() {
		r := record{line: t.Line()}
		for i := range t.Header {
			r.fields = append(r.fields, t.Field(i))
		}
		out = append(out, r)
	}
	return out
}

func open(t *testing.T, text string) *table.Table {
	t.Helper()
	x, err := table.New("t.csv", strings.NewReader(text))
	require.NoError(t, err)
	return x
}

// The same small table however it is written.
func TestForms(t *testing.T) {
	want := []record{{2, []string{"A1", "71.5", "early run"}}, {4, []string{"A2", "", "late"}}}
	const comma = "tag,length,batch\nA1,71.5,early run\n\nA2,,late\n"
	forms := map[string][]byte{
		"comma":            []byte(comma),
		"no last line end": []byte(strings.TrimSuffix(comma, "\n")),
		"CRLF":             []byte(strings.ReplaceAll(comma, "\n", "\r\n")),
		"BOM":              []byte("\ufeff" + comma),
		"semicolon":        []byte(strings.ReplaceAll(comma, ",", ";")),
		"tab":              []byte(strings.ReplaceAll(comma, ",", "\t")),
		"quotes":           []byte("\"tag\" , \"length\",batch\nA1, \"71.5\" ,\"early run\"\n,,\n\"A2\",\"\",late\n"),
		"blanks":           []byte(" tag ,length, batch\nA1 , 71.5,early run  \n  \nA2,,late\n"),
		"gzip":             zipped(t, comma),
		"two gzip parts":   append(zipped(t, comma[:30]), zipped(t, comma[30:])...),
		"zstd":             zstandard(t, comma),
		"workbook": workbook(t, [][]any{{"tag", "length", "batch"}, {"A1", 71.5, "early run"}, nil, {"A2", nil, "late"}},
			[]string{"first", "second"}),
	}
	for name, data := range forms {
		t.Run(name, func(t *testing.T) {
			x, err := table.New("t.csv", bytes.NewReader(data))
			require.NoError(t, err)
			require.Equal(t, []string{"tag", "length", "batch"}, x.Header)
			require.Equal(t, want, all(x))
			require.NoError(t, x.Err())
			sum := sha256.Sum256(data)
			require.Equal(t, hex.EncodeToString(sum[:]), x.Input().SHA256)
			require.False(t, x.Next(), "it stays at its end")
			require.NoError(t, x.Close())
		})
	}
}

func zipped(t *testing.T, s string) []byte {
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	_, err := w.Write([]byte(s))
	require.NoError(t, err)
	require.NoError(t, w.Close())
	return b.Bytes()
}

func zstandard(t *testing.T, s string) []byte {
	w, err := zstd.NewWriter(nil)
	require.NoError(t, err)
	return w.EncodeAll([]byte(s), nil)
}

func workbook(t *testing.T, rows [][]any, sheets []string) []byte {
	f := excelize.NewFile()
	require.NoError(t, f.SetSheetName("Sheet1", sheets[0]))
	for _, s := range sheets[1:] {
		_, err := f.NewSheet(s)
		require.NoError(t, err)
	}
	for i, r := range rows {
		require.NoError(t, f.SetSheetRow(sheets[0], fmt.Sprintf("A%d", i+1), &r))
	}
	b, err := f.WriteToBuffer()
	require.NoError(t, err)
	require.NoError(t, f.Close())
	return b.Bytes()
}

func TestQuotedFields(t *testing.T) {
	x := open(t, "a,b\n\"one\ntwo\",\"say \"\"no\"\"\"\n3,\"4,5\"\n")
	require.Equal(t, []record{{2, []string{"one\ntwo", `say "no"`}}, {4, []string{"3", "4,5"}}}, all(x))
	require.NoError(t, x.Err())
}

// Lines longer than the reader's buffer, up to the limit.
func TestLongLines(t *testing.T) {
	for _, n := range []int{1 << 16, 100_000, table.MaxRecord - 2} {
		for _, end := range []string{"\n", "\r\n", ""} {
			long := strings.Repeat("x", n)
			x := open(t, "a,b\n1,"+long+end)
			require.True(t, x.Next())
			require.Equal(t, long, x.Field(1))
			require.False(t, x.Next())
			require.NoError(t, x.Err())
		}
	}
}

// The sum is of the whole file, even where reading ended before.
func TestSumOfAFaultyFile(t *testing.T) {
	data := "a,b\n\"never closed,1\n" + strings.Repeat("1,2\n", 400_000)
	x := open(t, data)
	require.Empty(t, all(x))
	require.ErrorContains(t, x.Err(), "t.csv:2: the quote opened here is never closed")
	sum := sha256.Sum256([]byte(data))
	require.Equal(t, hex.EncodeToString(sum[:]), x.Input().SHA256)
}

func TestDelimiter(t *testing.T) {
	for _, c := range []struct {
		name, text string
		want       rune
	}{
		{"one column", "tag\nA1\n", ','},
		{"decimal commas", "tag;length\nA1;71,5\nA2;70,2\n", ';'},
		{"decimal commas, and one in each line of the header", "length, mm;weight, g\n71,5;3,1\n70,2;2,9\n", ';'},
		{"semicolon in a note", "tag,note\nA1,wet; cold\nA2,\n", ','},
		{"semicolon in the header", "tag,sex (m;f)\nA1,m\nA2,f\n", ','},
		{"semicolons in quotes", "tag,\"note; place\"\nA1,\"a;b\"\nA2,\"c;d\"\n", ','},
		{"a line too short", "a,b,c\n1,2\n3,4,5\n", ','},
		{"bars", "tag|place\nA1|Mill Lade, left\nA2|Tidehead\n", '|'},
		{"tab with commas", "a\tb\n1,2\t3\n", '\t'},
	} {
		require.Equal(t, string(c.want), string(open(t, c.text).Delimiter), c.name)
	}
}

// What cannot be opened at all, by place and words.
func TestRefusedAtOnce(t *testing.T) {
	long := strings.Repeat("x", table.MaxRecord+1)
	for _, c := range []struct{ name, data, says string }{
		{"empty", "", "t.csv:1: the table is empty"},
		{"blank lines only", "\n\n , \n", "t.csv:1: the table is empty"},
		{"a column twice", "\na,b,a\n", `t.csv:2: column "a" stands twice in the header, as column 1 and 3`},
		{"NUL", "a,b\x00\n", "t.csv:1: the line holds a NUL byte"},
		{"old workbook", "\xd0\xcf\x11\xe0\xa1\xb1", "t.csv: this is a workbook of the old kind (.xls)"},
		{"broken workbook", "PK\x03\x04 no more", "t.csv: the workbook cannot be opened"},
		{"broken gzip", "\x1f\x8b\x00", "t.csv: the compressed file is cut off or damaged"},
		{"long header", long + "\n", "t.csv:1: the line is longer than 1 MiB"},
		{"stray quote in the header", "a,b\"c\n", "t.csv:1: a quote inside the field"},
	} {
		_, err := table.New("t.csv", strings.NewReader(c.data))
		require.ErrorContains(t, err, c.says, c.name)
		var f *history.Faults
		require.ErrorAs(t, err, &f, c.name)
	}
	_, err := table.Open(t.TempDir())
	require.ErrorContains(t, err, "is a folder")
	_, err = table.Open(filepath.Join(t.TempDir(), "none.csv"))
	require.ErrorIs(t, err, os.ErrNotExist)
}

// An archive made to burst is refused by what it says it unpacks to.
func TestBurstingWorkbook(t *testing.T) {
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	_, err := w.CreateRaw(&zip.FileHeader{Name: "xl/workbook.xml", Method: zip.Deflate, UncompressedSize64: 2 << 30, CompressedSize64: 0})
	require.NoError(t, err)
	require.NoError(t, w.Close())
	_, err = table.New("t.xlsx", &b)
	require.ErrorContains(t, err, "t.xlsx: the workbook cannot be opened: its part xl/workbook.xml is damaged: it unpacks to 2147483648 bytes")
}

// All faults of a table in one reading, each with its line.
func TestFaults(t *testing.T) {
	x := open(t, "a,b\n1\n1,2,3\n4,5\n6,7\"8\n\"9\"x,10\n"+strings.Repeat("y", table.MaxRecord+9)+"\n11,\x0012\n13,\"14\n15,16\n")
	require.Equal(t, []record{{4, []string{"4", "5"}}}, all(x))
	var f *history.Faults
	require.ErrorAs(t, x.Err(), &f)
	var got []string
	for _, x := range f.List {
		got = append(got, x.Error())
	}
	want := []string{
		"t.csv:2: 1 fields where the header names 2 columns",
		"t.csv:3: 3 fields where the header names 2 columns",
		"t.csv:5: a quote inside the field \"7\\\"8\"; put the whole field in quotes and double those within",
		"t.csv:6: text after the closing quote of the field \"9\"; double the quotes within a quoted field",
		"t.csv:7: the line is longer than 1 MiB",
		"t.csv:8: the line holds a NUL byte, so this is no text; get a sound copy",
		"t.csv:9: the quote opened here is never closed",
	}
	require.Equal(t, want, got)
}

func TestManyFaultsAreCounted(t *testing.T) {
	x := open(t, "a,b\n"+strings.Repeat("1\n", 50))
	require.Empty(t, all(x))
	var f *history.Faults
	require.ErrorAs(t, x.Err(), &f)
	require.Equal(t, 50, f.Count())
	require.EqualError(t, f, "t.csv:2: 1 fields where the header names 2 columns; likewise 49 more, lines 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, …")

	var lines strings.Builder
	for n := range 50 {
		lines.WriteString(strings.Repeat("1,", n+2) + "1\n")
	}
	x = open(t, "a,b\n"+lines.String())
	require.Empty(t, all(x))
	require.ErrorAs(t, x.Err(), &f)
	require.Len(t, f.List, 20)
	require.Equal(t, 30, f.More)
	require.True(t, strings.HasSuffix(f.Error(), "\nand 30 more"))
}

func TestCutOffFiles(t *testing.T) {
	// Text that does not compress, so that the cut falls into the records.
	var b strings.Builder
	b.WriteString("a,b\n")
	sum := sha256.Sum256(nil)
	for range 5000 {
		sum = sha256.Sum256(sum[:])
		fmt.Fprintf(&b, "%x,1\n", sum)
	}
	for name, data := range map[string][]byte{"gzip": zipped(t, b.String()), "zstd": zstandard(t, b.String())} {
		x, err := table.New("t.csv", bytes.NewReader(data[:len(data)*2/3]))
		require.NoError(t, err, name)
		n := len(all(x))
		require.Positive(t, n, name)
		require.Less(t, n, 5000, name)
		require.ErrorContains(t, x.Err(), "the compressed file is cut off or damaged", name)
	}
}

type failing struct{ r io.Reader }

func (f failing) Read(p []byte) (int, error) {
	n, err := f.r.Read(p)
	if errors.Is(err, io.EOF) {
		err = errors.New("the disk is gone")
	}
	return n, err
}

func TestReadErrorIsNotTheEnd(t *testing.T) {
	text := "a,b\n" + strings.Repeat("1,2\n", 50_000)
	x, err := table.New("t.csv", failing{strings.NewReader(text)})
	require.NoError(t, err)
	all(x)
	require.ErrorContains(t, x.Err(), "the disk is gone")
}

func TestEightBitLines(t *testing.T) {
	x := open(t, "tag,place\nA1,Hollin\nA2,Bl\xe5fors\nA3,Blåfors\n")
	got := all(x)
	require.Equal(t, "Blåfors", got[1].fields[1])
	require.Equal(t, "Blåfors", got[2].fields[1], "lines that are UTF-8 stay what they are")
	require.Equal(t, []string{"t.csv:3: not UTF-8; such lines are read as Windows-1252"}, x.Notes())
}

// However a text is encoded and its lines end, it is the same table, record by
// record and in blocks.
func TestEncodings(t *testing.T) {
	const want = "Märke;Plats;Längd\n985.1;Mühlwehr – „oben“;71,5\n985.2;Żabie 木;\n"
	const narrow = "Märke;Plats;Längd\n985.1;Mühlwehr – „oben“;71,5\n985.2;Zabie \u20ac;\n"
	encode := func(e encoding.Encoding, s string) string {
		out, err := e.NewEncoder().String(s)
		require.NoError(t, err)
		return out
	}
	mac := func(s string) string { return strings.ReplaceAll(s, "\n", "\r") }
	dos := func(s string) string { return strings.ReplaceAll(s, "\n", "\r\n") }
	little, big := textunicode.UTF16(textunicode.LittleEndian, textunicode.UseBOM), textunicode.UTF16(textunicode.BigEndian, textunicode.UseBOM)
	for name, c := range map[string]struct{ data, want string }{
		"UTF-8":                          {want, want},
		"UTF-8 with its mark":            {"\ufeff" + dos(want), want},
		"old line ends":                  {mac(want), want},
		"UTF-16 little end first":        {encode(little, dos(want)), want},
		"UTF-16 big end first":           {encode(big, want), want},
		"UTF-16 without its mark":        {encode(textunicode.UTF16(textunicode.LittleEndian, textunicode.IgnoreBOM), "tag;x\nA1;2\n"), "tag;x\nA1;2\n"},
		"UTF-16 and old line ends":       {encode(little, mac(want)), want},
		"UTF-32 little end first":        {encode(utf32.UTF32(utf32.LittleEndian, utf32.UseBOM), want), want},
		"UTF-32 big end first":           {encode(utf32.UTF32(utf32.BigEndian, utf32.UseBOM), dos(want)), want},
		"a spreadsheet's Unicode text":   {encode(little, dos(strings.ReplaceAll(want, ";", "\t"))), want},
		"Windows-1252":                   {encode(charmap.Windows1252, dos(narrow)), narrow},
		"Windows-1252 and old line ends": {encode(charmap.Windows1252, mac(narrow)), narrow},
	} {
		t.Run(name, func(t *testing.T) {
			var fields []record
			for i, line := range strings.Split(strings.TrimSuffix(c.want, "\n"), "\n") {
				fields = append(fields, record{i + 1, strings.Split(line, ";")})
			}
			x := open(t, c.data)
			require.Equal(t, fields[0].fields, x.Header)
			require.Equal(t, fields[1:], all(x))
			require.NoError(t, x.Err())
			sum := sha256.Sum256([]byte(c.data))
			require.Equal(t, hex.EncodeToString(sum[:]), x.Input().SHA256, "of the file's own bytes")

			path := filepath.Join(t.TempDir(), "t.csv")
			require.NoError(t, os.WriteFile(path, []byte(c.data), 0o644))
			b, err := table.OpenBlocks(t.Context(), table.File{Path: path, Name: "t.csv"}, true)
			require.NoError(t, err)
			defer b.Close()
			require.Equal(t, fields[0].fields, b.Names)
			var got []record
			require.NoError(t, b.Each(t.Context(), func(x table.Block) (bool, error) {
				return x.Lines(func(line []byte, n int) bool {
					got = append(got, record{n, strings.Split(strings.ReplaceAll(string(line), "\t", ";"), ";")})
					return false
				}), nil
			}))
			require.Equal(t, fields[1:], got)
		})
	}
}

// Lines that are not UTF-8 may come late in a file that begins with plain ones,
// and a block with such a line is found again.
func TestEightBitLinesComeLate(t *testing.T) {
	var text, want strings.Builder
	text.WriteString("tag,site\n")
	for i := range 60_000 {
		site := "Alder Ford"
		if i >= 30_000 {
			site = "Mühlwehr"
		}
		fmt.Fprintf(&want, "A%d,%s\n", i, site)
		fmt.Fprintf(&text, "A%d,%s\n", i, strings.ReplaceAll(site, "ü", "\xfc"))
	}
	path := filepath.Join(t.TempDir(), "t.csv")
	require.NoError(t, os.WriteFile(path, []byte(text.String()), 0o644))
	type start struct {
		place int64
		line  int
		text  string
	}
	read := func(f func(b *table.Blocks, x table.Block) bool, from start) {
		b, err := table.OpenBlocks(t.Context(), table.File{Path: path, Name: "t.csv"}, false)
		require.NoError(t, err)
		defer b.Close()
		b.GoTo(from.place, from.line)
		require.NoError(t, b.Each(t.Context(), func(x table.Block) (bool, error) { return f(b, x), nil }))
	}
	var got strings.Builder
	var starts []start
	read(func(b *table.Blocks, x table.Block) bool {
		got.Write(x.Data)
		starts = append(starts, start{b.Place, x.Line, string(x.Data)})
		return false
	}, start{})
	require.Equal(t, want.String(), got.String())
	require.Greater(t, len(starts), 4)
	for _, s := range starts[1:] {
		read(func(_ *table.Blocks, x table.Block) bool {
			require.Equal(t, s.line, x.Line)
			n := min(len(s.text), len(x.Data)) // one may go on farther
			require.Equal(t, s.text[:n], string(x.Data[:n]))
			return true
		}, s)
	}
}

func TestNotes(t *testing.T) {
	x := open(t, "tag;length;\nA1;71,5;\n")
	require.True(t, x.Next())
	_, ok := x.Number(1)
	require.True(t, ok)
	require.Equal(t, []string{
		"t.csv: column 3 has no name and is not read",
		"t.csv: fields parted by semicolons, decimal comma",
	}, x.Notes())
	require.Equal(t, []string{"tag", "length"}, x.Columns())
	require.Equal(t, -1, x.Column(""))
}

func TestNumbers(t *testing.T) {
	for _, c := range []struct {
		delimiter, cell string
		want            float64
		says            string
	}{
		{",", "71.5", 71.5, ""},
		{",", "-3", -3, ""},
		{",", "1e-3", 0.001, ""},
		{",", "\"71,5\"", 0, `t.csv:2: column "n": "71,5" is not a number`},
		{";", "71,5", 71.5, ""},
		{"\t", "71,5", 71.5, ""},
		{";", "71.5", 71.5, ""},
		{";", "1.271,5", 0, "is not a number"},
		{";", "1,271,5", 0, "is not a number"},
		{",", "", 0, `"" is not a number`},
		{",", "NaN", 0, "is not a number"},
		{",", "Inf", 0, "is not a number"},
		{",", "0x10", 0, "is not a number"},
		{",", "1_000", 0, "is not a number"},
		{",", "1e999", 0, "is not a number"},
		{",", "7 1", 0, "is not a number"},
	} {
		x := open(t, "tag"+c.delimiter+"n\nA1"+c.delimiter+c.cell+"\n")
		require.True(t, x.Next())
		v, ok := x.Number(1)
		if c.says != "" {
			require.False(t, ok, c.cell)
			require.ErrorContains(t, x.Err(), c.says)
			continue
		}
		require.NoError(t, x.Err())
		require.Equal(t, c.want, v, c.cell)
	}
	// A decimal comma and a decimal point in one column: one of them is not
	// what it seems.
	x := open(t, "tag;n\nA1;71,5\nA2;1.271\n")
	require.True(t, x.Next())
	x.Number(1)
	require.True(t, x.Next())
	_, ok := x.Number(1)
	require.False(t, ok)
	require.ErrorContains(t, x.Err(), `t.csv:3: column "n": "1.271" has a decimal point, while line 2 has a decimal comma`)
}

// Each column has a decimal mark of its own: times of day with a point, or
// dotted tags, do not clash with lengths that have a comma.
func TestDecimalMarkOfEachColumn(t *testing.T) {
	x := open(t, "tag;at;n\n985.121001234567;09.05;71,5\n985.121001234568;09.10;70,2\n")
	for _, want := range [][3]float64{{985.121001234567, 9.05, 71.5}, {985.121001234568, 9.10, 70.2}} {
		require.True(t, x.Next())
		for column, v := range want {
			got, ok := x.Number(column)
			require.True(t, ok)
			require.Equal(t, v, got)
		}
	}
	require.False(t, x.Next())
	require.NoError(t, x.Err())
	require.Equal(t, []string{"t.csv: fields parted by semicolons, decimal comma"}, x.Notes())
}

// A study may say the mark: then commas are decimal though they part the
// fields, and a point makes a text.
func TestDecimalMarkAsTheStudySays(t *testing.T) {
	path := filepath.Join(t.TempDir(), "t.csv")
	require.NoError(t, os.WriteFile(path, []byte("tag,at,n\nA1,09.05,\"71,5\"\nA2,09.10,70\n"), 0o644))
	x, err := table.OpenFor(t.Context(), &study.Table{File: path, Written: "t.csv", Reading: study.Reading{Decimal: ','}})
	require.NoError(t, err)
	defer x.Close()
	at, n := table.NewColumn("at", ""), table.NewColumn("n", "")
	for x.Next() {
		at.Add(x, 1)
		n.Add(x, 2)
	}
	require.NoError(t, x.Err())
	require.Equal(t, []string{"09.05", "09.10"}, at.Finish().Levels)
	require.Equal(t, []float64{71.5, 70}, n.Finish().Value)
}

func column(t *testing.T, kind string, cells ...string) (history.Column, error) {
	t.Helper()
	x := open(t, "tag,c\nA,"+strings.Join(cells, "\nA,")+"\n")
	c := table.NewColumn("c", kind)
	for x.Next() {
		c.Add(x, 1)
	}
	return c.Finish(), x.Err()
}

func TestColumnKinds(t *testing.T) {
	c, err := column(t, "", "", "71.5", "NA", "70")
	require.NoError(t, err)
	require.False(t, c.IsCategory())
	require.Len(t, c.Value, 4)
	require.True(t, math.IsNaN(c.Value[0]) && math.IsNaN(c.Value[2]))
	require.Equal(t, []float64{71.5, 70}, []float64{c.Value[1], c.Value[3]})

	c, err = column(t, "", "NA", "b10", "b2", "", "b10")
	require.NoError(t, err)
	require.Equal(t, history.Column{Name: "c", Levels: []string{"b2", "b10"}, Level: []int32{-1, 1, 0, -1, 1}}, c)

	c, err = column(t, "category", "10", "2", "NA", "10")
	require.NoError(t, err)
	require.Equal(t, history.Column{Name: "c", Levels: []string{"2", "10"}, Level: []int32{1, 0, -1, 1}}, c)

	c, err = column(t, "", "", "NA")
	require.NoError(t, err)
	require.False(t, c.IsCategory())
	require.Len(t, c.Value, 2)

	_, err = column(t, "", "71", "", "long")
	require.ErrorContains(t, err, `t.csv:4: column "c": holds text and numbers: "long", and "71" on line 2; put the cells right, or say kinds = { c = "category" }`)
	_, err = column(t, "", "long", "71")
	require.ErrorContains(t, err, `t.csv:3: column "c": holds text and numbers: "71", and "long" on line 2`)
	_, err = column(t, "number", "71", "long")
	require.ErrorContains(t, err, `t.csv:3: column "c": "long" is not a number`)
}

// Levels do not depend on the order of the records.
func TestLevelsInNaturalOrder(t *testing.T) {
	a, err := column(t, "category", "week 10", "week 9", "Week 1", "week 09")
	require.NoError(t, err)
	b, err := column(t, "category", "week 09", "Week 1", "week 9", "week 10")
	require.NoError(t, err)
	require.Equal(t, []string{"Week 1", "week 09", "week 9", "week 10"}, a.Levels)
	require.Equal(t, a.Levels, b.Levels)
}

var someTables = []string{
	"a,b\n1,2\n", "a;b\r\n1,5;\"x\ny\"\r\n", "a\tb\n\xe9\t2\n", "\ufeffa,b\n\n,\n1\n", "a,b\n\"1,2\n", "a,a\n", "a,\n1,2\n",
}

func FuzzTable(f *testing.F) {
	pieces.Fuzz(f, soundTable, append(someTables, "\x1f\x8b\x08\x00\x00\x00\x00\x00\x00\xff", "PK\x03\x04", "\x28\xb5\x2f\xfd\x04\x00")...)
}

func TestComposedTables(t *testing.T) {
	pieces.Texts(t, 200, soundTable, someTables...)
	pieces.Each(t, 200, func(c *pieces.Composer) {
		soundTable(t, []byte(c.Cells([]string{",", ";", "\t", "|"}[c.IntN(4)])))
	})
	// What is compressed is read as it was, or refused where it is damaged.
	pieces.Each(t, 10, func(c *pieces.Composer) {
		text := "a" + c.Cells(",") // as it stands it is not compressed
		want, refused := content([]byte(text))
		for _, file := range [][]byte{zipped(t, text), zstandard(t, text)} {
			got, err := content(file)
			require.Equal(t, want, got)
			require.Equal(t, refused == nil, err == nil, "%v and %v", refused, err)
			damaged := []byte(c.Damaged(string(file)))
			soundTable(t, damaged)
			if got, err := content(damaged); err == nil && bytes.HasPrefix(damaged, file[:4]) {
				require.Equal(t, want, got)
			}
		}
	})
}

// soundTable: whatever the bytes, the table is read or every fault has a place;
// and what encoding/csv takes without complaint is read alike.
func soundTable(t *testing.T, data []byte) {
	x, err := table.New("t.csv", bytes.NewReader(data))
	if err != nil {
		var faults *history.Faults
		require.ErrorAs(t, err, &faults)
		require.Equal(t, "t.csv", faults.List[0].Pos.File)
		return
	}
	got := all(x)
	if err := x.Err(); err != nil {
		var faults *history.Faults
		require.ErrorAs(t, err, &faults)
		for _, x := range faults.List {
			require.Positive(t, x.Pos.Line, x)
		}
	}
	sum := sha256.Sum256(data)
	require.Equal(t, hex.EncodeToString(sum[:]), x.Input().SHA256)
	require.NoError(t, x.Close())
	if x.Err() != nil || x.Delimiter == 0 || bytes.HasPrefix(data, []byte("\x1f\x8b")) || bytes.HasPrefix(data, []byte("\x28\xb5\x2f\xfd")) {
		return
	}
	// encoding/csv keeps a carriage return before the end of the file and
	// takes no blanks around quotes, knows no ="…" by which a spreadsheet
	// keeps digits, and here lines may be Latin-1.
	if bytes.ContainsAny(data, "\r") || bytes.Contains(data, []byte(`="`)) || bytes.Contains(data, []byte(`"`)) && bytes.Contains(data, []byte(" ")) || !utf8.Valid(data) {
		return
	}
	if is, _ := dialect.WideEncoding(data); is != nil {
		return // read as what it is
	}
	r := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(data, []byte("\ufeff"))))
	r.Comma = x.Delimiter
	r.FieldsPerRecord = -1
	var want []record
	for {
		fields, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err)
		line, _ := r.FieldPos(0)
		filled := false
		trimmed := make([]string, len(fields))
		for i := range fields {
			trimmed[i] = table.TakenBack(strings.TrimSpace(fields[i]))
			filled = filled || trimmed[i] != ""
		}
		if filled {
			// Empty fields beyond the header's are none.
			for len(want) > 0 && len(trimmed) > len(want[0].fields) && trimmed[len(trimmed)-1] == "" {
				trimmed = trimmed[:len(trimmed)-1]
			}
			// Columns at the end that have no heading may be left out.
			for len(want) > 0 && len(trimmed) < len(want[0].fields) && want[0].fields[len(trimmed)] == "" {
				trimmed = append(trimmed, "")
			}
			want = append(want, record{line, trimmed})
		}
	}
	require.Equal(t, want[0].fields, x.Header)
	require.Equal(t, want[1:], append([]record{}, got...))
}

func BenchmarkTable(b *testing.B) {
	var s strings.Builder
	s.WriteString("tag,released,cohort,length,weight\n")
	for i := range 100_000 {
		fmt.Fprintf(&s, "9000000%08d,2025-04-%02d 12:00,week %d,%d.5,%d\n", i, 1+i%28, i%5, 60+i%90, i%17)
	}
	b.SetBytes(int64(s.Len()))
	b.ReportAllocs()
	for b.Loop() {
		x, err := table.New("t.csv", strings.NewReader(s.String()))
		require.NoError(b, err)
		length, cohort := table.NewColumn("length", ""), table.NewColumn("cohort", "")
		for x.Next() {
			length.Add(x, 3)
			cohort.Add(x, 2)
		}
		require.NoError(b, x.Err())
	}
}

// fill_down fills the cells named, in records and in blocks, and must name a column.
func TestFillDown(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.csv")
	require.NoError(t, os.WriteFile(path, []byte("site,day,tag\nA,1,x\n,,y\n\"B, upper\",,z\n,2,\nsite,day,tag\n,,v\n"), 0o644))
	read := func(fill ...string) (out []string, err error) {
		b, err := table.OpenBlocks(t.Context(), table.File{Path: path, Name: "a.csv", Reading: study.Reading{FillDown: fill}}, false)
		if err != nil {
			return nil, err
		}
		defer b.Close()
		return out, b.Each(t.Context(), func(x table.Block) (bool, error) {
			return x.Lines(func(line []byte, _ int) bool {
				out = append(out, string(line))
				return false
			}), nil
		})
	}
	lines, err := read("site")
	require.NoError(t, err)
	require.Equal(t, []string{"A,1,x", "A,,y", `"B, upper",,z`, `"B, upper",2,`, "site,day,tag", `"B, upper",,v`}, lines)
	_, err = read("sites")
	require.ErrorContains(t, err, `no column "sites" to fill down; the table has site, day, tag; did you mean "site"?`)

	tab, err := table.OpenFor(t.Context(), &study.Table{File: path, Reading: study.Reading{FillDown: []string{"site", "day"}}}, "tag")
	require.NoError(t, err)
	defer tab.Close()
	var got []string
	for tab.Next() {
		got = append(got, tab.Field(0)+"|"+tab.Field(1)+"|"+tab.Field(2))
	}
	require.NoError(t, tab.Err())
	require.Equal(t, []string{"A|1|x", "A|1|y", "B, upper|1|z", "B, upper|2|", "site|day|tag", "B, upper|2|v"}, got)
}
