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
	"strings"
)

// wholeWorkbook reads every part of a workbook to its end before any row of it
// counts: the sum of each part, its XML to the last closing element, and that
// every part which another names is there. Rows are read one by one, and the
// end of a part that is damaged looks like the end of the table.
func wholeWorkbook(ctx context.Context, packed []byte) error {
	z, err := zip.NewReader(bytes.NewReader(packed), int64(len(packed)))
	if err != nil {
		return err
	}
	there, named := map[string]bool{}, map[string]string{}
	for _, f := range z.File {
		name := partName("/", f.Name)
		if there[name] {
			return fmt.Errorf("two of its parts are called %s", f.Name)
		}
		there[name] = true
		if err := wholePart(ctx, f, named); err != nil {
			return fmt.Errorf("its part %s is damaged: %w", f.Name, err)
		}
	}
	for _, name := range []string{"/[content_types].xml", "/_rels/.rels", "/xl/workbook.xml", "/xl/_rels/workbook.xml.rels"} {
		named[name] = "every workbook"
	}
	for name, by := range named {
		if !there[name] {
			return fmt.Errorf("its part %s is missing, which %s names", strings.TrimPrefix(name, "/"), by)
		}
	}
	return nil
}

// partName is the name by which parts are compared: from the root, in small
// letters.
func partName(folder, name string) string {
	name = strings.ReplaceAll(name, `\`, "/")
	if !strings.HasPrefix(name, "/") {
		name = folder + "/" + name
	}
	return strings.ToLower(path.Clean(name))
}

// wholePart reads one part to its end and notes in named which others it names.
func wholePart(ctx context.Context, f *zip.File, named map[string]string) error {
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
		if err := wholeXML(&shortTexts{r: r}, f.Name, named); err != nil {
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

func wholeXML(r io.Reader, part string, named map[string]string) error {
	d := xml.NewDecoder(r)
	d.CharsetReader = func(_ string, in io.Reader) (io.Reader, error) { return in, nil }
	// Relationships of "xl/_rels/x.rels" are named from "xl".
	folder := "/" + path.Dir(path.Dir(part))
	elements := 0
	for {
		token, err := d.RawToken()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return err
		}
		switch e := token.(type) {
		case xml.StartElement:
			elements++
			if name := namedPart(e, folder); name != "" {
				named[name] = part
			}
		case xml.EndElement:
			elements--
		}
	}
	if elements != 0 {
		return fmt.Errorf("its XML ends before its last element")
	}
	return nil
}

// namedPart is the part that an element of the contents, or of relationships,
// says is in the workbook; "" where it says none.
func namedPart(e xml.StartElement, folder string) string {
	attr := func(name string) string {
		for _, a := range e.Attr {
			if a.Name.Local == name {
				return a.Value
			}
		}
		return ""
	}
	switch {
	case e.Name.Local == "Override" && attr("PartName") != "":
		return partName("/", attr("PartName"))
	case e.Name.Local == "Relationship" && attr("Target") != "" && attr("TargetMode") != "External":
		return partName(folder, attr("Target"))
	}
	return ""
}
