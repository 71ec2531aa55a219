package ingest

import (
	"example.org/unseen/history"
	"example.org/unseen/history/clock"
	"example.org/unseen/history/study"
	"example.org/unseen/history/table"
)

// enoughTimes is how many times of a column are looked at in any case before
// its layout counts as settled; those after it that differ are faults.
const enoughTimes = 1000

// timeColumn reads a column of times. How they are written is settled by the
// first of them; until then they wait.
type timeColumn struct {
	order clock.Order
	ends  bool // the ends of days are wanted
	zone  *clock.Zone

	survey  clock.Survey
	layout  clock.Layout
	settled bool
	given   bool   // settled from the start, by another
	said    string // what the values themselves settled
	waiting []byte // the cells that wait
	upTo    []int32

	lines  []int32 // of each time while they wait
	cell   []byte  // the one being read
	cursor clock.Cursor
	dates  clock.Dates
	moments
}

// moments are the times of a column in Unix milliseconds, [history.NoTime]
// where missing or at fault.
type moments struct {
	ms []int64
	// dayEnd is, for a date without a time of day, the last millisecond of
	// the day; else ms. nil where it is not wanted.
	dayEnd       []int64
	never, twice int
	firstDoubt   int32 // line
}

// newTimeColumn is a column in a study's own zone and order of dates.
func newTimeColumn(st *study.Study, ends bool) (*timeColumn, error) {
	order, err := clock.ParseOrder(st.DateOrder)
	if err != nil {
		return nil, err
	}
	return startTimes(order, clock.NewZone(location(st.Location)), ends), nil
}

func startTimes(order clock.Order, zone *clock.Zone, ends bool) *timeColumn {
	return &timeColumn{order: order, zone: zone, cursor: zone.Cursor(), ends: ends}
}

// like starts a column that is written as c is, as far as that is settled.
func (c *timeColumn) like() *timeColumn {
	n := startTimes(c.order, c.zone, c.ends)
	n.layout, n.settled, n.given, n.said = c.layout, c.settled, c.settled, c.said
	return n
}

// addField takes the record's field in a column of times.
func (c *timeColumn) addField(t *table.Table, column int) {
	cell := ""
	if !t.Missing(column) {
		cell = t.Field(column)
	}
	c.add(t, column, cell, t.Line())
}

// add takes a cell of a column and returns its number among those taken.
func (c *timeColumn) add(t *table.Table, column int, cell string, line int) int {
	c.cell = append(c.cell[:0], cell...)
	if c.settled {
		c.read(t, column, c.cell, line)
		return len(c.ms) - 1
	}
	if cell != "" {
		c.survey.Add(c.cell, line)
	}
	c.waiting = append(c.waiting, cell...)
	c.upTo, c.lines = append(c.upTo, int32(len(c.waiting))), append(c.lines, int32(line))
	n := len(c.upTo)
	if n >= enoughTimes && c.survey.Settled() {
		c.settle(t, column)
	}
	return n - 1
}

// count is how many times were added.
func (c *timeColumn) count() int { return len(c.ms) + len(c.upTo) }

// settle reads what waited. The table is at fault where no layout can be
// settled.
func (c *timeColumn) settle(t *table.Table, column int) {
	if c.settled {
		return
	}
	var err error
	if c.layout, c.said, err = c.survey.Settle(c.order); err != nil {
		t.FaultAt(1, "column %q: %v", t.Header[column], err)
	}
	c.settled = true
	c.each(func(cell []byte, line int) {
		if err != nil {
			cell = nil // one fault tells enough
		}
		c.read(t, column, cell, line)
	})
	c.waiting, c.upTo, c.lines = nil, nil, nil
}

// each gives the cells that wait.
func (c *timeColumn) each(f func(cell []byte, line int)) {
	from := int32(0)
	for i, to := range c.upTo {
		f(c.waiting[from:to], int(c.lines[i]))
		from = to
	}
}

// read takes the next time. A value at fault is noted in t.
func (c *timeColumn) read(t *table.Table, column int, cell []byte, line int) {
	c.ms = append(c.ms, history.NoTime)
	if c.ends {
		c.dayEnd = append(c.dayEnd, 0)
	}
	if len(cell) == 0 {
		return
	}
	v, fault := c.dates.Parse(c.layout, cell)
	if fault != clock.OK {
		t.FaultAt(line, "column %q: %q: %v", t.Header[column], cell, fault)
		return
	}
	how := clock.Once
	end := v.Ms
	if v.DateOnly {
		end += 86_400_000
	}
	if !v.Absolute {
		v.Ms, how = c.cursor.Instant(v.Ms)
		if end, _ = c.cursor.Instant(end); !v.DateOnly {
			end = v.Ms
		}
	}
	if v.DateOnly {
		end--
		how = clock.Once // midnight stands for the day, not for itself
	}
	c.ms[len(c.ms)-1] = v.Ms
	if c.ends {
		c.dayEnd[len(c.dayEnd)-1] = end
	}
	if how != clock.Once {
		if c.never+c.twice == 0 {
			c.firstDoubt = int32(line)
		}
		if how == clock.Never {
			c.never++
		} else {
			c.twice++
		}
	}
}

// join puts the times of the same column of the table's next part behind those
// of c, as if they had been added one by one; false where the part settled by
// itself how they are written.
func (c *timeColumn) join(t *table.Table, column int, o *timeColumn) bool {
	if !o.settled {
		o.each(func(cell []byte, line int) { c.add(t, column, string(cell), line) })
		return true
	}
	if !o.given {
		return false
	}
	if c.never+c.twice == 0 {
		c.firstDoubt = o.firstDoubt
	}
	c.never, c.twice = c.never+o.never, c.twice+o.twice
	c.ms, c.dayEnd = append(c.ms, o.ms...), append(c.dayEnd, o.dayEnd...)
	return true
}

// instants are the column's times; what its own values settled is noted.
func (c *timeColumn) instants(t *table.Table, column int) []int64 {
	c.settle(t, column)
	if c.said != "" {
		t.Note("%s", c.said)
	}
	return c.ms
}

// noons are instants, but noon for a date without a time of day. The ends of
// days must be wanted.
func (c *timeColumn) noons(t *table.Table, column int) []int64 {
	c.instants(t, column)
	for i, ms := range c.ms {
		if end := c.dayEnd[i]; end != ms && ms != history.NoTime {
			c.ms[i] = ms + (end+1-ms)/2
		}
	}
	return c.ms
}
