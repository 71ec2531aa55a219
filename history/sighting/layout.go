package sighting

import (
	"context"
	"fmt"
	"maps"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"example.org/unseen/history"
	"example.org/unseen/history/clock"
	"example.org/unseen/history/internal/dialect"
	"example.org/unseen/history/study"
	"example.org/unseen/history/table"
)

// layout is how one array file is written.
type layout struct {
	delim    byte
	fields   int // of the header
	named    int // of these those up to the last with a name
	need     int // fields up to the last one needed
	columns  columns
	time     clock.Layout
	reversed bool
	points   bool // times of day apart have points: see [clock.IsPointTime]
	source        // what its group says
}

// columns are the indices of the columns of an array file; -1 where none.
// date is there where it stands apart from the time of day.
type columns struct{ tag, site, antenna, time, date int }

// findColumns maps the header of an array file.
func findColumns(names []string, conf *study.SightingFiles) (columns, error) {
	var err error
	find := func(ours string) int {
		called, mapped := conf.Columns[ours]
		if !mapped {
			called = []string{ours}
		}
		if i := table.FindName(names, called); i >= 0 {
			return i
		}
		if (mapped || ours == "tag" || ours == "time") && err == nil {
			hint := fmt.Sprintf("; say which one it is with columns = { %s = \"…\" } under %s", ours, conf.Title)
			if mapped {
				if hint = history.Propose(called[0], names); hint == "" {
					hint = fmt.Sprintf("; where files differ give both names: columns = { %s = [%q, \"…\"] }", ours, called[0])
				}
			}
			err = fmt.Errorf("no column %s among %s%s", eitherOf(called), strings.Join(names, ", "), hint)
		}
		return -1
	}
	c := columns{tag: find("tag"), site: -1, antenna: -1, time: find("time"), date: -1}
	// Where the study says the place, no column does.
	if conf.Site == "" {
		c.site = find("site")
	}
	if conf.Antenna == "" && conf.Row == "" {
		c.antenna = find("antenna")
	}
	// Of files that differ some may write date and time in one.
	if d := conf.Columns["date"]; len(d) > 0 {
		was := err
		if c.date = find("date"); c.date < 0 && len(conf.Columns["time"]) > 1 {
			err = was
		}
	}
	if err == nil && c.site < 0 && c.antenna < 0 && conf.Site == "" && conf.Antenna == "" {
		err = fmt.Errorf("no column \"site\" or \"antenna\" among %s; say which one it is with columns = { site = \"…\" } under %s, or of which site all these files are with site = \"…\"", strings.Join(names, ", "), conf.Title)
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
func newLayout(names []string, delim byte, conf *study.SightingFiles) (*layout, error) {
	at, err := findColumns(names, conf)
	if err != nil {
		return nil, err
	}
	l := &layout{delim: delim, fields: len(names), named: len(names), need: 1 + max(at.tag, at.site, at.antenna, at.time, at.date), columns: at}
	for l.named > l.need && names[l.named-1] == "" {
		l.named--
	}
	return l, nil
}

// fits tells whether a line of n fields has those of the header, but for columns
// without a name at its end, and behind them nothing but the empty ones that
// spreadsheets write.
func (l *layout) fits(n int, line []byte) bool {
	return n == l.fields || n < l.fields && n >= l.named || n > l.fields && l.emptyTail(line)
}

// emptyTail is for a line with more fields than the header; delimiters in quotes
// count too, so that such a line may be refused, but never taken wrongly.
func (l *layout) emptyTail(line []byte) bool {
	for i, n := 0, 0; i < len(line); i++ {
		if line[i] == l.delim {
			n++
		} else if n >= l.fields && line[i] != ' ' {
			return false
		}
	}
	return true
}

// survey lets a survey see the times of a block's records.
func (l *layout) survey(v *clock.Survey, x table.Block) {
	l.eachTime(x, func(time []byte, number int) bool {
		v.Add(time, number)
		return false
	})
}

// eachTime gives the time of each record of a block, as written, until f says
// enough.
func (l *layout) eachTime(x table.Block, f func(time []byte, line int) (stop bool)) {
	s := dialect.Splitter{Delimiter: l.delim}
	var joined []byte
	x.Lines(func(line []byte, number int) bool {
		fields, ok := s.Line(line)
		if !ok || fields.Count() < l.need {
			return false
		}
		time := fields.At(l.columns.time)
		if l.columns.date >= 0 {
			l.points = l.points || clock.IsPointTime(time)
			joined = clock.AppendJoined(joined[:0], fields.At(l.columns.date), time, l.points)
			time = joined
		}
		return f(time, number)
	})
}

// midnightsOnly tells whether all times of a block are at midnight, and more
// than two or one that is a date alone.
func (l *layout) midnightsOnly(x table.Block) bool {
	const day = 24 * 3600_000
	n, alone, other := 0, false, false
	l.eachTime(x, func(time []byte, _ int) bool {
		v, fault := l.time.Parse(time)
		if fault == clock.OK {
			n++
			alone, other = alone || v.DateOnly, v.Ms%day != 0
		}
		return other
	})
	return !other && (alone || n > 2)
}

// twelveOnly tells whether the times of a block are those of a clock that goes to
// twelve, without a word of morning and afternoon: enough of them, at every hour
// from 1 to 12 and at no other.
func (l *layout) twelveOnly(x table.Block) bool {
	const hour, enough, oneToTwelve = 3600_000, 50, 1<<13 - 2
	n, hours := 0, 0
	l.eachTime(x, func(time []byte, _ int) bool {
		v, fault := l.time.Parse(time)
		if fault == clock.OK {
			n++
			hours |= 1 << (v.Ms / hour % 24)
		}
		return hours&^oneToTwelve != 0
	})
	return n >= enough && hours == oneToTwelve
}

// reversedFile tells whether a file's codes are bit-reversed.
func reversedFile(conf *study.SightingFiles, path string) bool {
	if conf.BitReversed {
		return true
	}
	for _, p := range conf.BitReversedFiles {
		if match, err := table.Match(p, path); err == nil && match || filepath.Clean(p) == filepath.Clean(path) ||
			strings.HasPrefix(filepath.Clean(path), filepath.Clean(p)+string(filepath.Separator)) {
			return true
		}
	}
	return false
}

// readOn lets a survey see the times of a file's blocks behind the first, until
// it is settled.
func (l *layout) readOn(ctx context.Context, file table.File, v *clock.Survey, firstLine int) error {
	b, err := table.OpenBlocks(ctx, file, false)
	if err != nil {
		return err
	}
	defer b.Close()
	return b.Each(ctx, func(x table.Block) (bool, error) {
		if x.Line > firstLine && !x.TooLong {
			l.survey(v, x)
		}
		return v.Settled(), nil // a year of two digits is settled by all
	})
}

// check refuses a file that names the antenna alone where two sites have one of
// that name.
func (p *places) check(l *layout) error {
	if l.columns.site >= 0 || l.site != nil || len(p.several) == 0 {
		return nil
	}
	return fmt.Errorf("the file names the antenna but not the site, and antenna %q stands at more than one site; add a column with the site, or say site = \"…\" for its files", slices.Sorted(maps.Keys(p.several))[0])
}
