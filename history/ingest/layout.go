package ingest

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"example.org/unseen/history"
	"example.org/unseen/history/clock"
	"example.org/unseen/history/study"
)

// layout is how one array file is written.
type layout struct {
	file     int
	delim    byte
	fields   int // of the header
	need     int // fields up to the last one needed
	columns  columns
	time     clock.Layout
	reversed bool
}

// columns are the indices of the columns of an array file; -1 where none.
type columns struct{ tag, site, antenna, time int }

// header is the first line of an array file that is not blank.
func header(data []byte) (line, rest []byte, lines int) {
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	for len(data) > 0 {
		line, rest = cutLine(data)
		lines++
		if !isBlank(line) {
			return line, rest, lines
		}
		data = rest
	}
	return nil, nil, lines
}

// delimiterOf is the candidate that parts a header into most fields; commas
// where there are none.
func delimiterOf(line []byte) byte {
	best, most := byte(','), 0
	for _, c := range []byte{'\t', ';', ',', '|'} {
		n, quoted := 0, false
		for _, x := range line {
			if x == '"' {
				quoted = !quoted
			} else if x == c && !quoted {
				n++
			}
		}
		if n > most {
			best, most = c, n
		}
	}
	return best
}

// splitHeader gives the names in a header.
func splitHeader(line []byte, delim byte) ([]string, error) {
	s := splitter{delim: delim, spans: make([]span, 0, 1+bytes.Count(line, []byte{delim}))}
	text, n, ok := s.any(line)
	if !ok {
		return nil, fmt.Errorf("the header holds a stray quote")
	}
	names := make([]string, n)
	for i, x := range s.spans[:n] {
		names[i] = strings.TrimSpace(string(text[x.from:x.to]))
	}
	return names, nil
}

// findColumns maps the header of an array file.
func findColumns(names []string, conf *study.SightingFiles) (columns, error) {
	var err error
	find := func(ours string) int {
		name, mapped := conf.Columns[ours]
		if !mapped {
			name = ours
		}
		at := -1
		for i, n := range names {
			if n == name || at < 0 && strings.EqualFold(n, name) {
				if at = i; n == name {
					break
				}
			}
		}
		if at < 0 && (mapped || ours == "tag" || ours == "time") && err == nil {
			hint := fmt.Sprintf("; say which one it is with columns = { %s = \"…\" } under [sightings]", ours)
			if mapped {
				hint = history.Propose(name, names)
			}
			err = fmt.Errorf("no column %q among %s%s", name, strings.Join(names, ", "), hint)
		}
		return at
	}
	c := columns{tag: find("tag"), site: find("site"), antenna: find("antenna"), time: find("time")}
	if err == nil && c.site < 0 && c.antenna < 0 {
		err = fmt.Errorf("no column \"site\" or \"antenna\" among %s; say which one it is with columns = { site = \"…\" } under [sightings]", strings.Join(names, ", "))
	}
	return c, err
}

// newLayout settles a file's layout from its header; the times are settled
// apart.
func newLayout(line []byte, conf *study.SightingFiles) (*layout, error) {
	l := &layout{delim: delimiterOf(line)}
	names, err := splitHeader(line, l.delim)
	if err != nil {
		return nil, err
	}
	if l.columns, err = findColumns(names, conf); err != nil {
		return nil, err
	}
	l.fields = len(names)
	l.need = 1 + max(l.columns.tag, l.columns.site, l.columns.antenna, l.columns.time)
	return l, nil
}

// surveyTimes lets the survey see the times of a block's records.
func (l *layout) surveyTimes(v *clock.Survey, data []byte, line int) {
	s := splitter{delim: l.delim, spans: make([]span, 0, l.need)}
	for len(data) > 0 {
		var record []byte
		record, data = cutLine(data)
		if text, n, ok := s.any(record); ok && n >= l.need {
			x := s.spans[:l.need][l.columns.time]
			v.Add(text[x.from:x.to], line)
		}
		line++
	}
}

// settleTimes reads on in the file, on its own, until the order of day and
// month has shown itself.
func (l *layout) settleTimes(ctx context.Context, path string, v *clock.Survey) error {
	s, err := openSource(path, false)
	if err != nil {
		return err
	}
	defer s.shut()
	b := newBlocks(s)
	var buf []byte
	for first := true; ; first = false {
		data, line, tooLong, err := b.next(ctx, buf)
		switch {
		case errors.Is(err, io.EOF):
			return nil
		case err != nil:
			return err
		case tooLong:
			continue
		}
		buf = data
		if first {
			continue // seen already
		}
		l.surveyTimes(v, data, line)
		if v.Settled() {
			return nil
		}
	}
}

var delimiterNames = map[byte]string{';': "semicolons", '\t': "tabs", '|': "bars"}
