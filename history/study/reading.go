package study

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/htmlindex"
	"golang.org/x/text/encoding/ianaindex"
)

// Reading is what the study says of how a file is written, where the file does
// not tell by itself. The zero value says nothing.
type Reading struct {
	// Sheet is the sheet of a workbook; "": the first with the columns wanted.
	Sheet string
	// HeaderLine are the lines, from 1, that name the columns: nil is the first
	// that is not blank, a single 0 none, so that columns are called by their
	// numbers. Of several lines the names are put together.
	HeaderLine []int
	// Widths are those of the columns of fixed-width text, in characters.
	Widths []int
	// Delimiter parts the fields: a character, or "blanks" for any number of
	// blanks and tabs; "" is told from the file.
	Delimiter string
	// Encoding is how characters are written, by its usual name; "" is told
	// from the file.
	Encoding string
	Decimal  byte // the decimal mark of its numbers, ',' or '.'; 0: each column tells
	// FillDown are columns of which an empty cell repeats the one above.
	FillDown []string
	// Joins are columns put together of several, which stand before those of
	// the file.
	Joins []Join
}

// Join is a column put together of others: a time, of which the date may be year,
// month and day and the time of day hours, minutes and seconds; or a tag, of the
// country or manufacturer and the number.
type Join struct {
	Name    string
	Columns []string
	Tag     bool
}

// JoinColumns names the column that is put together of others.
func JoinColumns(tag bool, columns ...string) Join {
	return Join{Name: strings.Join(columns, " + "), Columns: columns, Tag: tag}
}

// NoHeader tells whether columns are called by their numbers.
func (r *Reading) NoHeader() bool { return slices.Equal(r.HeaderLine, []int{0}) }

// Blanks is the delimiter that is any number of blanks.
const Blanks = "blanks"

// Encodings of more than a byte a character; which byte comes first a file tells.
var wideEncodings = []string{"utf-16", "utf-32"}

// EncodingOf is an encoding by its usual name: those of the web, and those of old
// systems, such as ibm850 of DOS.
func EncodingOf(name string) (encoding.Encoding, error) {
	if is, err := htmlindex.Get(name); err == nil {
		return is, nil
	}
	is, err := ianaindex.IANA.Encoding(name)
	if err == nil && is == nil {
		err = fmt.Errorf("the encoding %q is not supported", name)
	}
	return is, err
}

// reading reads the keys of how a file is written.
func (d *decoder) reading(t *table) Reading {
	var r Reading
	r.Sheet, _ = d.text(t, "sheet")
	if mark, _ := d.oneOf(t, "decimal", ",", "."); mark != "" {
		r.Decimal = mark[0]
	}
	r.HeaderLine = d.headerLine(t)
	r.Widths = d.widths(t)
	r.FillDown, _ = d.texts(t, "fill_down")
	d.delimiter(t, &r)
	enc, pos := d.text(t, "encoding")
	if r.Encoding = strings.ToLower(enc); enc != "" && !slices.Contains(wideEncodings, r.Encoding) {
		if _, err := EncodingOf(enc); err != nil {
			d.fault(pos, "no encoding is called %q; there are utf-8, utf-16, utf-32, windows-1250, windows-1251, windows-1252, iso-8859-2, koi8-r, ibm850, macintosh, shift_jis and others", enc)
			r.Encoding = ""
		}
	}
	return r
}

// headerLine reads header_line = 7, 0, or [2, 3].
func (d *decoder) headerLine(t *table) []int {
	const want = "the number of a line, 0 where no line names the columns, or a list of lines that follow one another"
	n := d.get(t, "header_line")
	if n == nil {
		return nil
	}
	list, several := n.value.([]*node)
	if !several {
		list = []*node{n}
	}
	var out []int
	for _, x := range list {
		v, ok := x.value.(int64)
		if !ok || v < 0 || v > 1_000_000 || several && (v == 0 || len(out) > 0 && int(v) != out[len(out)-1]+1) || len(list) > 10 {
			d.wrong(x, "header_line", want)
			return nil
		}
		out = append(out, int(v))
	}
	if len(out) == 0 {
		d.wrong(n, "header_line", want)
	}
	return out
}

// widths reads widths = [16, 4, 19].
func (d *decoder) widths(t *table) []int {
	const want = "a list of the columns' widths in characters, such as [16, 4, 19]"
	n := d.get(t, "widths")
	if n == nil {
		return nil
	}
	list, ok := n.value.([]*node)
	if !ok || len(list) == 0 {
		d.wrong(n, "widths", want)
		return nil
	}
	var out []int
	for _, x := range list {
		v, ok := x.value.(int64)
		if !ok || v < 1 || v > 10_000 {
			d.wrong(x, "widths", want)
			return nil
		}
		out = append(out, int(v))
	}
	return out
}

func (d *decoder) delimiter(t *table, r *Reading) {
	n := d.get(t, "delimiter")
	if n == nil {
		return
	}
	s, ok := n.value.(string)
	switch {
	case strings.EqualFold(s, Blanks):
		r.Delimiter = Blanks
	case ok && len(s) == 1 && s[0] < 0x7F && s[0] != '"' && s[0] != ' ' && s[0] != '\n' && s[0] != '\r':
		r.Delimiter = s
	default:
		d.wrong(n, "delimiter", `a character, such as ";", or "blanks"`)
	}
	if r.Widths != nil {
		d.fault(n.pos, "widths are given, so nothing parts the fields; leave out delimiter")
	}
}

// columnTable gives the table of columns with numbers of columns as texts, which
// are names where no line gives any.
func (d *decoder) columnTable(t *table, r *Reading) {
	n := t.nodes["columns"]
	if n == nil {
		return
	}
	columns, ok := n.value.(*table)
	if !ok {
		return
	}
	for _, k := range columns.keys {
		d.numbersOf(columns.nodes[k], "columns."+k, r)
		if x, ok := columns.nodes[k].value.(*table); ok && x.nodes["join"] != nil {
			d.numbersOf(x.nodes["join"], "columns."+k, r)
		}
	}
}

func (d *decoder) numbersOf(n *node, key string, r *Reading) {
	list, ok := n.value.([]*node)
	if !ok {
		list = []*node{n}
	}
	for _, x := range list {
		v, ok := x.value.(int64)
		if !ok {
			continue
		}
		if !r.NoHeader() || v < 1 {
			d.fault(x.pos, "%s must be text in quotes, not the number %d; columns are called by their numbers, from 1, only where header_line = 0", key, v)
		}
		x.value = columnNumber(v)
	}
}

// columnNumber is the name of a column where no line names any.
func columnNumber(n int64) string { return strconv.FormatInt(n, 10) }

// timeColumns are our columns that hold times.
var timeColumns = []string{"time", "released", "removed", "shed", "date"}

// joins takes the columns that are put together of several out of columns: a tag
// of two, a time of three and more. In their place stands the name of the whole.
// A date and a time of day are left to [decoder.join].
func (d *decoder) joins(t *table) (out []Join) {
	n := t.nodes["columns"]
	if n == nil {
		return nil
	}
	columns, ok := n.value.(*table)
	if !ok {
		return nil
	}
	for _, ours := range columns.keys {
		n := columns.nodes[ours]
		x, ok := n.value.(*table)
		if !ok || x.nodes["join"] == nil {
			continue
		}
		list, _ := x.nodes["join"].value.([]*node)
		tag, time := ours == "tag", slices.Contains(timeColumns, ours)
		switch {
		case tag && len(list) != 2:
			d.fault(n.pos, "columns.tag: join must name two columns, that of the country or manufacturer and that of the number")
			continue
		case !tag && (!time || len(list) < 3):
			continue
		}
		x.title = "columns." + ours
		names, _ := d.texts(x, "join")
		d.done(x)
		if len(names) == len(list) {
			out = append(out, JoinColumns(tag, names...))
			columns.nodes[ours] = &node{pos: n.pos, value: out[len(out)-1].Name}
		}
	}
	return out
}

// join reads { join = ["Date", "Time"] }; ok is false where the value is no table.
func (d *decoder) join(n *node, key string) (date, time string, ok bool) {
	x, ok := n.value.(*table)
	if !ok {
		return "", "", false
	}
	x.title = key
	if names, pos := d.texts(x, "join"); len(names) == 2 {
		date, time = names[0], names[1]
	} else {
		d.fault(pos, "%s: join must name two columns, that of the date and that of the time of day, or year, month and day, and then those of the time", key)
		date, time = "?", "?"
	}
	d.done(x)
	return date, time, true
}
