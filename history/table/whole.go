package table

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"slices"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"
)

// Limits of what a workbook may unpack to, against archives made to burst.
const (
	maxUnpacked = 1 << 30
	maxPacked   = 1 << 28
)

// parts is what the parts of a workbook say of each other.
type parts struct {
	// named are the parts that another names, with that one.
	named map[string]string
	// sheets are the IDs of the sheets by name, and targets the parts by ID.
	sheets, targets map[string]string
	// texts is the number of texts that cells share; shared is the largest
	// that one names, and where.
	texts, shared int
	sharedAt      string
	said          map[string]*sheetPart // by part
	// from1904: its days are counted from 1904, not from 1900.
	from1904 bool
}

// sheetPart is what the part of a sheet says of it.
type sheetPart struct {
	// unsolved is a cell with a formula of which nobody has worked out the
	// value.
	unsolved string
	merged   []mergedCell // in the order of their first rows
}

// mergedCell is one that goes down over several rows, and its value.
type mergedCell struct {
	column, from, to int // column from 0, rows from 1
	value            string
}

// wholeWorkbook reads every part of a workbook to its end before any row of it
// counts: the sum of each part, its XML to the last closing element, and that
// every part and every text which another names is there. Rows are read one by
// one, and the end of a part that is damaged looks like the end of the table. said
// is what was met, by sheet.
func wholeWorkbook(ctx context.Context, packed []byte) (said map[string]*sheetPart, err error) {
	z, err := zip.NewReader(bytes.NewReader(packed), int64(len(packed)))
	if err != nil {
		return nil, err
	}
	there := map[string]bool{}
	p := &parts{named: map[string]string{}, sheets: map[string]string{}, targets: map[string]string{}, shared: -1, said: map[string]*sheetPart{}}
	for _, f := range z.File {
		name := partName("/", f.Name)
		if there[name] {
			return nil, fmt.Errorf("two of its parts are called %s", f.Name)
		}
		there[name] = true
		if err := p.whole(ctx, f); err != nil {
			return nil, fmt.Errorf("its part %s is damaged: %w", f.Name, err)
		}
	}
	for _, name := range []string{"/[content_types].xml", "/_rels/.rels", "/xl/workbook.xml", "/xl/_rels/workbook.xml.rels"} {
		p.named[name] = "every workbook"
	}
	for name, by := range p.named {
		if !there[name] {
			return nil, fmt.Errorf("its part %s is missing, which %s names", strings.TrimPrefix(name, "/"), by)
		}
	}
	if p.from1904 {
		return nil, errFrom1904
	}
	if p.shared >= p.texts {
		return nil, fmt.Errorf("%s names text %d of the %d that the cells share", p.sharedAt, p.shared+1, p.texts)
	}
	said = map[string]*sheetPart{}
	for sheet, id := range p.sheets {
		if x := p.said[p.targets[id]]; x != nil {
			slices.SortStableFunc(x.merged, func(a, b mergedCell) int { return a.from - b.from })
			said[sheet] = x
		}
	}
	return said, nil
}

// sheet is what is said of a part that is a sheet.
func (p *parts) sheet(part string) *sheetPart {
	name := partName("/", part)
	if p.said[name] == nil {
		p.said[name] = &sheetPart{}
	}
	return p.said[name]
}

// merge notes a cell that goes down over several rows, such as A2:A40.
func (p *parts) merge(ref, part string) {
	first, last, _ := strings.Cut(ref, ":")
	column, from, err := excelize.CellNameToCoordinates(first)
	_, to, err2 := excelize.CellNameToCoordinates(last)
	if err == nil && err2 == nil && to > from {
		x := p.sheet(part)
		x.merged = append(x.merged, mergedCell{column: column - 1, from: from, to: to})
	}
}

// errFrom1904 refuses a workbook whose dates would be four years and a day too
// early: which of its numbers are dates only the formats of the cells tell.
var errFrom1904 = errors.New("it counts days from 1904, as old spreadsheets of the Macintosh did, and its dates would be read four years too early; save each sheet as CSV, with its dates as 2025-05-03 14:32:05")

// partName is the name by which parts are compared: from the root, in small
// letters.
func partName(folder, name string) string {
	name = strings.ReplaceAll(name, `\`, "/")
	if !strings.HasPrefix(name, "/") {
		name = folder + "/" + name
	}
	return strings.ToLower(path.Clean(name))
}

// whole reads one part to its end and notes what it says of others.
func (p *parts) whole(ctx context.Context, f *zip.File) error {
	if f.UncompressedSize64 > maxUnpacked {
		return fmt.Errorf("it unpacks to %d bytes; the most is %d", f.UncompressedSize64, maxUnpacked)
	}
	part, err := f.Open()
	if err != nil {
		return err
	}
	defer part.Close()
	r := until{ctx, part}
	kind := strings.ToLower(path.Ext(f.Name))
	if kind == ".xml" || kind == ".rels" {
		if err := p.wholeXML(&shortTexts{r: r}, f.Name); err != nil {
			return err
		}
	}
	// What follows the XML is read too: the sum is checked at the very end.
	_, err = io.Copy(io.Discard, r)
	return err
}

// shortTexts fails where a text of XML, as the content of a cell, is longer than
// a record may be, before it is all in memory.
type shortTexts struct {
	r io.Reader
	n int // bytes since an element began
}

func (s *shortTexts) Read(p []byte) (int, error) {
	n, err := s.r.Read(p)
	if i := bytes.LastIndexByte(p[:n], '<'); i >= 0 {
		s.n = n - i
	} else {
		s.n += n
	}
	if s.n > MaxRecord {
		return n, errors.New("a cell is longer than 1 MiB")
	}
	return n, err
}

func (p *parts) wholeXML(r io.Reader, part string) error {
	d := xml.NewDecoder(r)
	d.CharsetReader = func(_ string, in io.Reader) (io.Reader, error) { return in, nil }
	// Relationships of "xl/_rels/x.rels" are named from "xl".
	folder := "/" + path.Dir(path.Dir(part))
	var root string
	var c cell
	for {
		token, err := d.Token() // fails where an element is not closed by its own name
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		switch e := token.(type) {
		case xml.StartElement:
			if root == "" {
				root = e.Name.Local
			}
			p.element(e, part, folder)
			if root == "worksheet" {
				c.begin(e)
			} else if root == "sst" && e.Name.Local == "si" {
				p.texts++
			}
		case xml.CharData:
			c.say(e)
		case xml.EndElement:
			if root == "worksheet" && e.Name.Local == "c" {
				if err := p.cell(&c, part); err != nil {
					return err
				}
			}
			c.in = ""
		}
	}
}

// element notes what an element says is in the workbook.
func (p *parts) element(e xml.StartElement, part, folder string) {
	if name := namedPart(e, folder); name != "" {
		p.named[name] = part
		if partName("/", part) == "/xl/_rels/workbook.xml.rels" {
			p.targets[attr(e, "Id")] = name
		}
	}
	if e.Name.Local == "mergeCell" {
		p.merge(attr(e, "ref"), part)
	}
	if on := attr(e, "date1904"); e.Name.Local == "workbookPr" && (on == "1" || on == "true") {
		p.from1904 = true
	}
	if e.Name.Local == "sheet" {
		for _, a := range e.Attr {
			if a.Name.Local == "id" && a.Name.Space != "" {
				p.sheets[attr(e, "name")] = a.Value
			}
		}
	}
}

// cell is one of a worksheet, as far as it was read.
type cell struct {
	at, kind string
	in       string // the element inside it
	formula  bool
	valued   bool // though perhaps with nothing
	value    []byte
}

func (c *cell) begin(e xml.StartElement) {
	switch c.in = e.Name.Local; c.in {
	case "c":
		*c = cell{at: attr(e, "r"), kind: attr(e, "t"), value: c.value[:0]}
	case "f":
		c.formula = true
	case "v":
		c.valued = true
	}
}

func (c *cell) say(text []byte) {
	if c.in == "v" {
		c.value = append(c.value, text...)
	}
}

// cell looks at a cell that was read.
func (p *parts) cell(c *cell, part string) error {
	switch value := strings.TrimSpace(string(c.value)); {
	case c.kind == "s" && value != "":
		n, err := strconv.Atoi(value)
		if err != nil || n < 0 {
			return fmt.Errorf("its cell %s names text %q", c.at, value)
		}
		if n > p.shared {
			p.shared, p.sharedAt = n, fmt.Sprintf("cell %s of its part %s", c.at, part)
		}
	case value == "" && c.formula && !(c.kind == "str" && c.valued):
		if x := p.sheet(part); x.unsolved == "" {
			x.unsolved = c.at
		}
	}
	return nil
}

func attr(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// namedPart is the part that an element of the contents, or of relationships,
// says is in the workbook; "" where it says none.
func namedPart(e xml.StartElement, folder string) string {
	switch {
	case e.Name.Local == "Override" && attr(e, "PartName") != "":
		return partName("/", attr(e, "PartName"))
	case e.Name.Local == "Relationship" && attr(e, "Target") != "" && attr(e, "TargetMode") != "External":
		return partName(folder, attr(e, "Target"))
	}
	return ""
}
