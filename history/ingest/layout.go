package ingest

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.org/unseen/history"
	"example.org/unseen/history/clock"
	"example.org/unseen/history/read"
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
// date is there where it stands apart from the time of day.
type columns struct{ tag, site, antenna, time, date int }

// need is how many fields a record needs to hold them.
func (c columns) need() int { return 1 + max(c.tag, c.site, c.antenna, c.time, c.date) }

// joinDate puts a date and a time of day together in the memory of buf. Either
// may be the number that a spreadsheet keeps instead.
func joinDate(buf, date, clock []byte) []byte {
	buf = appendDay(buf[:0], bytes.TrimSpace(date))
	return appendDayTime(append(buf, ' '), bytes.TrimSpace(clock))
}

// appendDay appends a date; one that is a spreadsheet's day number, as 45752, is
// written out.
func appendDay(buf, date []byte) []byte {
	if len(date) != 5 {
		return append(buf, date...)
	}
	n, err := strconv.Atoi(string(date))
	if err != nil || n < 10_000 {
		return append(buf, date...)
	}
	return time.Date(1899, 12, 30+n, 0, 0, 0, 0, time.UTC).AppendFormat(buf, time.DateOnly)
}

// appendDayTime appends a time of day; one that is a fraction of a day, as a
// spreadsheet keeps it, is written out to the millisecond.
func appendDayTime(buf, clock []byte) []byte {
	v, ok := dayFraction(string(clock))
	if !ok {
		return append(buf, clock...)
	}
	ms := min(time.Duration(math.Round(v*86_400_000)), 86_399_999)
	return time.Time{}.Add(ms*time.Millisecond).AppendFormat(buf, "15:04:05.999")
}

// dayFraction reads a fraction of a day: a number from 0 to below 1 with a
// decimal point, or 0 itself.
func dayFraction(s string) (v float64, ok bool) {
	if s != "0" && !strings.ContainsAny(s, ".E") {
		return 0, false
	}
	v, ok = read.ParseNumber(s)
	return v, ok && v >= 0 && v < 1
}

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
	s := splitter{delim: delim}
	f, ok := s.any(line)
	if !ok {
		return nil, fmt.Errorf("the header holds a stray quote")
	}
	names := make([]string, f.count())
	for i := range names {
		names[i] = strings.TrimSpace(string(f.at(i)))
	}
	return names, nil
}

// findColumns maps the header of an array file.
func findColumns(names []string, conf *study.SightingFiles) (columns, error) {
	var err error
	find := func(ours string) int {
		called, mapped := conf.Columns[ours]
		if !mapped {
			called = []string{ours}
		}
		for _, name := range called {
			if i := slices.Index(names, name); i >= 0 {
				return i
			}
		}
		for _, name := range called {
			if i := slices.IndexFunc(names, func(n string) bool { return strings.EqualFold(n, name) }); i >= 0 {
				return i
			}
		}
		if (mapped || ours == "tag" || ours == "time") && err == nil {
			hint := fmt.Sprintf("; say which one it is with columns = { %s = \"…\" } under [sightings]", ours)
			if mapped {
				if hint = history.Propose(called[0], names); hint == "" {
					hint = fmt.Sprintf("; where files differ give both names: columns = { %s = [%q, \"…\"] }", ours, called[0])
				}
			}
			err = fmt.Errorf("no column %s among %s%s", eitherOf(called), strings.Join(names, ", "), hint)
		}
		return -1
	}
	c := columns{tag: find("tag"), site: find("site"), antenna: find("antenna"), time: find("time"), date: -1}
	// Of files that differ some may write date and time in one.
	if d := conf.Columns["date"]; len(d) > 0 {
		was := err
		if c.date = find("date"); c.date < 0 && len(conf.Columns["time"]) > 1 {
			err = was
		}
	}
	if err == nil && c.site < 0 && c.antenna < 0 {
		err = fmt.Errorf("no column \"site\" or \"antenna\" among %s; say which one it is with columns = { site = \"…\" } under [sightings]", strings.Join(names, ", "))
	}
	return c, err
}

func eitherOf(names []string) string {
	var q []string
	for _, n := range names {
		q = append(q, strconv.Quote(n))
	}
	return strings.Join(q, " or ")
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
	l.need = l.columns.need()
	return l, nil
}

// surveyTimes lets the survey see the times of a block's records.
func (l *layout) surveyTimes(v *clock.Survey, data []byte, line int) {
	s := splitter{delim: l.delim}
	var join []byte
	for len(data) > 0 {
		var record []byte
		record, data = cutLine(data)
		if f, ok := s.any(record); ok && f.count() >= l.need {
			time := f.at(l.columns.time)
			if l.columns.date >= 0 {
				join = joinDate(join, f.at(l.columns.date), time)
				time = join
			}
			v.Add(time, line)
		}
		line++
	}
}

// settleTimes reads on in the file, on its own, until the order of day and
// month has shown itself.
func (l *layout) settleTimes(ctx context.Context, path string, v *clock.Survey) error {
	s, err := openSource(ctx, path, false)
	if err != nil {
		return err
	}
	defer s.shut()
	seen := true // the first block was, already
	return newBlocks(s).each(ctx, func(data []byte, line int, tooLong bool) (bool, error) {
		if !seen && !tooLong {
			l.surveyTimes(v, data, line)
		}
		seen = false
		return v.Settled(), nil
	})
}

var delimiterNames = map[byte]string{';': "semicolons", '\t': "tabs", '|': "bars"}
