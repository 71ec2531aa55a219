package table

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"

	"example.org/unseen/history/internal/dialect"
)

// textBlock is how much text is made a string at a time: little enough to stay
// close to the processor.
const textBlock = 32 << 10

// textRecords takes text apart into records. A field in quotes may hold line
// ends.
type textRecords struct {
	blocks *Blocks
	split  dialect.Splitter

	block  Block  // the one being read
	plain  bool   // it has neither quotes nor NULs
	text   string // its lines to come
	line   int    // the number of the one read last
	fields []string
}

func newTextRecords(b *Blocks, note func(line int)) *textRecords {
	b.size, b.note = textBlock, note
	return &textRecords{blocks: b, split: dialect.Splitter{Delimiter: b.Delimiter}}
}

// rest gives what is behind the record read last as blocks.
func (s *textRecords) rest() *Blocks {
	x := s.block
	for ; x.Line <= s.line; x.Line++ {
		_, x.Data, _ = bytes.Cut(x.Data, []byte("\n"))
	}
	s.blocks.size = blockSize
	if len(x.Data) > 0 {
		s.blocks.held = []Block{x}
	}
	return s.blocks
}

// nextLine reads a line without its end; one that is too long or no text is a
// *recordError.
func (s *textRecords) nextLine() (string, error) {
	for s.text == "" {
		x, err := s.blocks.next(s.blocks.source.ctx, s.block.Data)
		if err != nil {
			s.line++
			return "", err
		}
		if s.line = x.Line - 1; x.TooLong {
			s.line++
			return "", tooLong(s.line)
		}
		s.block, s.text = x, string(x.Data)
		s.plain = bytes.IndexByte(x.Data, '"') < 0 && bytes.IndexByte(x.Data, 0) < 0
	}
	line, rest, _ := strings.Cut(s.text, "\n")
	s.text = rest
	s.line++
	if line = strings.TrimSuffix(line, "\r"); len(line) > MaxRecord {
		return "", tooLong(s.line)
	}
	if s.plain {
		return line, nil
	}
	if i := strings.IndexByte(line, 0); i >= 0 {
		return "", &recordError{line: s.line, column: i + 1, message: "the line holds a NUL byte, so this is no text; get a sound copy"}
	}
	return line, nil
}

func tooLong(line int) error {
	return &recordError{line: line, message: "the line is longer than 1 MiB"}
}

func (s *textRecords) next() ([]string, int, error) {
	line, err := s.nextLine()
	start := s.line
	if err != nil {
		return nil, start, err
	}
	if !s.plain && strings.IndexByte(line, '"') >= 0 {
		err = s.quoted(line)
	} else {
		s.fields = appendFields(s.fields[:0], line, s.split.Delimiter)
	}
	return s.fields, start, err
}

// appendFields appends the fields of a record without quotes.
func appendFields(fields []string, text string, delimiter byte) []string {
	for {
		i := strings.IndexByte(text, delimiter)
		if i < 0 {
			return append(fields, text)
		}
		fields, text = append(fields, text[:i]), text[i+1:]
	}
}

// quoted takes a record with quotes apart, reading on where a quoted field
// holds a line end.
func (s *textRecords) quoted(line string) error {
	record, start := []byte(line), s.line
	for {
		s.split.Text = s.split.Text[:0]
		f, fault, at := s.split.Take(record)
		if fault == dialect.Sound {
			text := string(f.Text)
			s.fields = s.fields[:0]
			for i := range f.Count() {
				s.fields = append(s.fields, text[f.Marks[i]+1:f.Marks[i+1]])
			}
			return nil
		}
		e := &recordError{line: start + bytes.Count(record[:at], []byte("\n")), column: at - bytes.LastIndexByte(record[:at], '\n')}
		field := f.Text[f.Marks[len(f.Marks)-1]+1:]
		switch fault {
		case dialect.QuoteInside:
			e.message = fmt.Sprintf("a quote inside the field %q; put the whole field in quotes and double those within", field)
			return e
		case dialect.TextBehind:
			e.message = fmt.Sprintf("text after the closing quote of the field %q; double the quotes within a quoted field", field)
			return e
		}
		var err error
		if record, err = s.readOn(record); errors.Is(err, io.EOF) {
			return &recordError{line: e.line, fatal: true, message: "the quote opened here is never closed"}
		} else if err != nil {
			return err
		}
	}
}

// readOn appends lines to a record with an open quote, up to one that may close
// it: with it the quotes are even in number. It is io.EOF where there is none.
func (s *textRecords) readOn(record []byte) ([]byte, error) {
	for len(record) <= MaxRecord {
		line, err := s.nextLine()
		if err != nil {
			return record, err
		}
		record = append(append(record, '\n'), line...)
		if strings.Count(line, `"`)%2 == 1 {
			return record, nil
		}
	}
	return record, io.EOF
}
