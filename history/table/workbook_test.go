package table

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"example.org/unseen/history"
	"example.org/unseen/history/study"
	"example.org/unseen/testdata/pieces"
)

type sheetRecord struct {
	line   int
	fields []string
}

// Cells of workbooks as text, and sheets of them as they stand.
var (
	someCells = []string{
		"tag\tsite\n1\tA\n\n2\tB", "\n\na\tb\t\n1\n 2 \t3\t", "a\n1\t2\n3", "a\ta\n1\t2", "a\t\tb\n1\t2\t3", "", "\n", "tag\n=1+1\n<&>\"'\n川\r\n\x1f",
		"a\n1\t ", "a\n-\t\r", "a\n1\t\u00a0\t", "'=a\n'=1", "a\t'=b\t=b\n1\t2\t3", "a\u00a0\ta\n1\t2", "\u2028\n1", "\ufeffa\n1\n\ufeff",
	}
	someSheets = []string{
		`<worksheet><sheetData><row r="1"><c r="A1" t="s"><v>0</v></c><c r="B1" t="s"><v>1</v></c><c r="C1" t="inlineStr"><is><r><t>a</t></r><r><t xml:space="preserve"> b</t></r></is></c></row>` +
			`<row r="2"><c r="A2" t="b"><v>1</v></c><c r="B2" t="e"><v>#N/A</v></c><c r="C2" t="str"><f>A1&amp;B1</f><v>x</v></c></row><row r="3"><c r="A3"><f>1+1</f><v>2</v></c></row>` +
			`<row r="4"><c r="B4" t="d"><v>2025-04-05T10:00:00Z</v></c><c r="A4"><v> 1E-3 </v></c></row></sheetData><mergeCells><mergeCell ref="A2:B4"/><mergeCell ref="C3:C9"/></mergeCells></worksheet>`,
		`<worksheet><sheetData><row r="1"><c r="A1"><v>7</v></c></row><row r="2"><c r="XFD2"><v>1</v></c></row></sheetData></worksheet>`,
		`<worksheet><sheetData><row r="1"><c r="A1"><v>7</v></c></row><row r="2"><c r="A2"><v>1</v></c><c r="C2"><v>2</v></c></row><row r="3"><c r="A3"><v>1</v></c></row></sheetData><mergeCells><mergeCell ref="C2:C3"/></mergeCells></worksheet>`,
		`<worksheet><sheetData><row r="1"><c r="A1" t="s"><v>0</v></c><c r="C1" t="str"><v>b</v></c></row><row r="5"><c r="B5"><v>45748.5</v></c></row></sheetData></worksheet>`,
		`<worksheet><sheetData><row><c><v>1</v></c></row><row><c t="b"><v>1</v></c><c t="e"><v>#N/A</v></c></row>`,
		`<worksheet><sheetData><row r="3"><c r="XFD3" t="s"><v>9</v></c></row><row r="2"/></sheetData></worksheet>`,
		`<worksheet><sheetData><row r="-1"><c r="A"><v>1</v></c></row></sheetData></worksheet>`, `<worksheet/>`, "<",
		`<worksheet><sheetData><row r="1"><c r="A1" t="str"><v>a</v></c></row><row r="2"><c r="A2" t="str"><v>x&#10;y&#13;"z</v></c></row></sheetData></worksheet>`,
	}
)

func FuzzWorkbook(f *testing.F) {
	for _, s := range someCells {
		f.Add(s, false, uint32(0))
		f.Add(s, false, uint32(4001))
	}
	for _, s := range someSheets {
		f.Add(s, true, uint32(0))
	}
	f.Fuzz(func(t *testing.T, text string, isXML bool, flip uint32) {
		defer pieces.Hurry()()
		sameWorkbook(t, text, isXML, flip)
	})
}

func TestComposedWorkbooks(t *testing.T) {
	pieces.Each(t, 15, func(c *pieces.Composer) { sameWorkbook(t, c.Text(someCells...), false, 0) })
	pieces.Each(t, 15, func(c *pieces.Composer) { sameWorkbook(t, c.Cells("\t"), false, 0) })
	pieces.Each(t, 15, func(c *pieces.Composer) { sameWorkbook(t, c.Text(someSheets...), true, 0) })
	pieces.Each(t, 15, func(c *pieces.Composer) { sameWorkbook(t, c.Text(someCells...), false, c.Uint32N(20_000)) })
	pieces.Each(t, 2, func(c *pieces.Composer) { sameWorkbook(t, c.Long(someCells...), false, 0) })
	pieces.Each(t, 2, func(c *pieces.Composer) { sameWorkbook(t, c.Long(someSheets...), true, 0) })
}

// sameWorkbook makes a workbook of text: its cells, or as it stands the XML of
// its sheet, and turns over one bit where asked to. Whatever it is, it is read
// or every fault has a place, and both ways of reading say the same; sound cells
// are read as they were written.
func sameWorkbook(t *testing.T, text string, isXML bool, flip uint32) {
	sheet := text
	if !isXML && len(text) > 1<<16 {
		return // what is twenty times as long as XML
	}
	if !isXML {
		sheet = sheetOf(text)
	}
	data := workbookOf(t, sheet)
	if flip > 0 {
		data[int(flip/8)%len(data)] ^= 1 << (flip % 8)
	}
	header, got, err := readSheet(t, data)
	blockHeader, blocks, blockErr := readSheetBlocks(data)
	if header != nil { // else both, or only the table for its header, refuse it
		require.Equal(t, err == nil, blockErr == nil, "%v and %v", err, blockErr)
	}
	if err != nil {
		var faults *history.Faults
		require.ErrorAs(t, err, &faults)
		for _, x := range faults.List {
			require.Equal(t, "t.xlsx", x.Pos.File)
		}
	} else {
		require.Equal(t, header, blockHeader)
		require.Equal(t, cleaned(got), blocks)
	}
	if !isXML && flip == 0 && storable(text) {
		wantHeader, want, refused := wantOf(text)
		require.Equal(t, refused, err != nil, "%v", err)
		if !refused {
			require.Equal(t, wantHeader, header)
			require.Equal(t, want, got)
		}
	}
}

// readSheet reads a workbook as a table. The header is nil where it is refused.
func readSheet(t *testing.T, data []byte) (header []string, got []sheetRecord, err error) {
	x, err := New("t.xlsx", bytes.NewReader(data))
	if err != nil {
		return nil, nil, err
	}
	for x.Next() {
		r := sheetRecord{line: x.Line()}
		for i := range x.Header {
			r.fields = append(r.fields, x.Field(i))
		}
		if n := len(got); n > 0 {
			require.Greater(t, r.line, got[n-1].line)
		}
		got = append(got, r)
	}
	if x.Err() == nil {
		sum := sha256.Sum256(data)
		require.Equal(t, hex.EncodeToString(sum[:]), x.Input().SHA256)
	}
	require.NoError(t, x.Close())
	return x.Header, got, x.Err()
}

// readSheetBlocks reads a workbook as lines.
func readSheetBlocks(data []byte) (header []string, got []sheetRecord, err error) {
	b, err := newBlocks(context.Background(), File{Name: "t.xlsx"}, bytes.NewReader(data), -1, false)
	if err != nil {
		return nil, nil, err
	}
	defer b.source.shut()
	for {
		x, err := b.Next(context.Background(), nil)
		if errors.Is(err, io.EOF) {
			return b.Names, got, nil
		}
		if err != nil {
			return b.Names, got, err
		}
		for i, line := range strings.Split(strings.TrimSuffix(string(x.Data), "\n"), "\n") {
			got = append(got, sheetRecord{x.Line + i, strings.Split(line, string(rune(cellDelimiter)))})
		}
	}
}

// cleaned are records with their cells as they stand in lines.
func cleaned(records []sheetRecord) []sheetRecord {
	var out []sheetRecord
	for _, r := range records {
		c := sheetRecord{line: r.line}
		for _, f := range r.fields {
			c.fields = append(c.fields, string(appendCell(nil, []byte(f))))
		}
		out = append(out, c)
	}
	return out
}

func cellsOf(text string) [][]string {
	var rows [][]string
	for row := range strings.SplitSeq(text, "\n") {
		rows = append(rows, strings.Split(row, "\t"))
	}
	return rows
}

// sheetOf is the XML of a sheet of cells of text.
func sheetOf(text string) string {
	var b strings.Builder
	b.WriteString(`<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>`)
	for r, row := range cellsOf(text) {
		fmt.Fprintf(&b, `<row r="%d">`, r+1)
		for c, cell := range row {
			name, err := excelize.CoordinatesToCellName(c+1, r+1)
			if err != nil { // beyond the last column
				break
			}
			fmt.Fprintf(&b, `<c r="%s" t="inlineStr"><is><t xml:space="preserve">`, name)
			xml.EscapeText(&b, []byte(cell))
			b.WriteString(`</t></is></c>`)
		}
		b.WriteString("</row>")
	}
	b.WriteString("</sheetData></worksheet>")
	return b.String()
}

// storable: XML can hold the text, none of it is a workbook's escape such as
// _x000D_, and it is no wider than a sheet.
func storable(text string) bool {
	if !utf8.ValidString(text) || strings.Contains(text, "_x") || len(text) > mostColumns {
		return false
	}
	return !strings.ContainsFunc(text, func(r rune) bool {
		return r < 0x20 && r != '\t' && r != '\n' && r != '\r' || r == 0xFFFE || r == 0xFFFF
	})
}

// wantOf is what a sheet of cells of text must be read as.
func wantOf(text string) (header []string, want []sheetRecord, refused bool) {
	names := map[string]bool{}
	for r, row := range cellsOf(text) {
		if blank(row) {
			continue
		}
		for len(row) > 0 && row[len(row)-1] == "" {
			row = row[:len(row)-1]
		}
		fields := make([]string, max(len(row), len(header)))
		for i, cell := range row {
			fields[i] = TakenBack(strings.TrimSpace(cell))
		}
		if header == nil {
			header = fields
			for _, name := range header {
				refused = refused || name != "" && names[name]
				names[name] = true
			}
			continue
		}
		refused = refused || !blank(fields[len(header):])
		want = append(want, sheetRecord{r + 1, fields[:len(header)]})
	}
	return header, want, refused || header == nil
}

// workbookOf is a workbook whose one sheet is the XML given.
func workbookOf(t *testing.T, sheet string) []byte {
	const (
		head = `<?xml version="1.0" encoding="UTF-8"?>`
		main = ` xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"`
		rel  = `http://schemas.openxmlformats.org/officeDocument/2006/relationships`
		pack = `http://schemas.openxmlformats.org/package/2006/`
		form = `application/vnd.openxmlformats-officedocument.spreadsheetml.`
	)
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, part := range [][2]string{
		{"[Content_Types].xml", `<Types xmlns="` + pack + `content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>` +
			`<Override PartName="/xl/workbook.xml" ContentType="` + form + `sheet.main+xml"/><Override PartName="/xl/worksheets/sheet1.xml" ContentType="` + form + `worksheet+xml"/>` +
			`<Override PartName="/xl/sharedStrings.xml" ContentType="` + form + `sharedStrings+xml"/></Types>`},
		{"_rels/.rels", `<Relationships xmlns="` + pack + `relationships"><Relationship Id="rId1" Type="` + rel + `/officeDocument" Target="xl/workbook.xml"/></Relationships>`},
		{"xl/workbook.xml", `<workbook` + main + ` xmlns:r="` + rel + `"><sheets><sheet name="S" sheetId="1" r:id="rId1"/></sheets></workbook>`},
		{"xl/_rels/workbook.xml.rels", `<Relationships xmlns="` + pack + `relationships"><Relationship Id="rId1" Type="` + rel + `/worksheet" Target="worksheets/sheet1.xml"/>` +
			`<Relationship Id="rId2" Type="` + rel + `/sharedStrings" Target="sharedStrings.xml"/></Relationships>`},
		{"xl/sharedStrings.xml", `<sst` + main + ` count="2"><si><t>tag</t></si><si><r><t>two </t></r><r><t>runs</t></r></si></sst>`},
		{"xl/worksheets/sheet1.xml", sheet},
	} {
		w, err := z.Create(part[0])
		require.NoError(t, err)
		text := part[1]
		if text != sheet {
			text = head + text
		}
		_, err = io.WriteString(w, text)
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	return b.Bytes()
}

// A cell far to the right of a table is told, and does not make each row wide.
func TestStrayCellFarToTheRight(t *testing.T) {
	for _, stray := range []string{"BXY1", "BXY2"} { // the 2001st column
		sheet := `<worksheet><sheetData><row r="1"><c r="A1"><v>7</v></c>`
		for r := range 2 {
			if strings.HasSuffix(stray, fmt.Sprint(r+1)) {
				sheet += `<c r="` + stray + `"><v>1</v></c>`
			}
			sheet += fmt.Sprintf(`</row><row r="%d"><c r="A%d"><v>1</v></c>`, r+2, r+2)
		}
		data := workbookOf(t, sheet+`</row></sheetData></worksheet>`)
		_, _, err := readSheet(t, data)
		require.ErrorContains(t, err, "t.xlsx:"+stray[3:]+": ")
		require.ErrorContains(t, err, "a row reaches to column BXY, and a table has 2000 columns at most; delete what stands far to the right")
		_, _, err = readSheetBlocks(data)
		require.ErrorContains(t, err, "a row reaches to column BXY")
		_, _, err = readSheet(t, bytes.Clone(workbookOf(t, strings.ReplaceAll(sheet, "BXY", "BXX")+`</row></sheetData></worksheet>`)))
		require.NotContains(t, fmt.Sprint(err), "far to the right")
	}
}

// Cells that go down over rows are filled also where no row names the columns; one
// that begins beyond the header is in no column.
func TestMergedCells(t *testing.T) {
	sheet := func(rows ...string) string {
		out := "<worksheet><sheetData>"
		for r, row := range rows {
			out += fmt.Sprintf(`<row r="%d">`, r+1)
			for c := range strings.FieldsSeq(row) {
				if c != "." {
					out += `<c t="str"><v>` + c + "</v></c>"
				} else {
					out += "<c/>"
				}
			}
			out += "</row>"
		}
		return out + `</sheetData><mergeCells><mergeCell ref="B3:B4"/><mergeCell ref="A2:A4"/></mergeCells></worksheet>`
	}
	for _, c := range []struct {
		how  study.Reading
		rows []string
		want string
	}{
		{study.Reading{}, []string{"tag day", "x 1", ". 2", ". .", "y 3"}, "x1 x2 x2 y3 "},
		{study.Reading{HeaderLine: []int{0}}, []string{"w 0", "x 1", ". 2", ". .", "y 3"}, "w0 x1 x2 x2 y3 "},
		{study.Reading{}, []string{"tag", "x", ". 2", ". .", "y"}, "x x y "},
	} {
		x, err := readFrom(t.Context(), "t.xlsx", bytes.NewReader(workbookOf(t, sheet(c.rows...))), -1, c.how, nil)
		require.NoError(t, err)
		x.PassOver = func([]string, int) bool { return true }
		got := ""
		for x.Next() {
			for i := range x.Header {
				got += x.Field(i)
			}
			got += " "
		}
		require.Equal(t, c.want, got)
	}
}
