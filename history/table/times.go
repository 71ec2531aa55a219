package table

import (
	"cmp"
	"strings"
	"time"

	"example.org/unseen/history"
	"example.org/unseen/history/clock"
	"example.org/unseen/history/study"
)

// EnoughTimes is how many times of a column are looked at in any case before
// its layout counts as settled; those after it that differ are faults.
const EnoughTimes = 1000

// Times reads a column of times. How they are written is settled by the
// first of them; until then the cells wait as text.
type Times struct {
	// Ms are the times in Unix milliseconds, [history.NoTime] where missing or
	// at fault. They are complete after [Times.Settle].
	Ms []int64
	// DayEnd is, for a date without a time of day, the last millisecond of
	// the day; else as Ms. nil where it is not wanted.
	DayEnd []int64
	// Never and Twice count the local times that a clock change skipped or
	// repeated; FirstDoubt is the line of the first.
	Never, Twice int
	FirstDoubt   int32
	// Said is what the values themselves settled, in words; "" for nothing.
	Said string
	// Zone is the zone of times without an offset.
	Zone *clock.Zone
	// AtDay is the time of day, since midnight, that stands for a date without
	// one, if it is not nil; DateOnly counts them, and FirstDate is the line of
	// the first.
	AtDay     *time.Duration
	DateOnly  int
	FirstDate int32

	order      clock.Order
	wantDayEnd bool

	survey    clock.Survey
	layout    clock.Layout
	settled   bool
	inherited bool // settled from the start, by the column it was made like

	waiting []waitingTime
	points  bool // times of day apart have points: see [clock.IsPointTime]

	cell   []byte // the one being read
	cursor clock.Cursor
	dates  clock.Dates
}

// waitingTime is a cell that waits, and its line.
type waitingTime struct {
	cell string
	line int
	// points is the cell if points part hours from minutes; "" is the same.
	points string
}

// NewTimes starts a column in a study's own zone and order of dates.
func NewTimes(st *study.Study, wantDayEnd bool) (*Times, error) {
	if err := st.Check(); err != nil {
		return nil, err
	}
	order, err := clock.ParseOrder(st.DateOrder)
	if err != nil {
		return nil, err
	}
	return newTimes(order, clock.NewZone(st.Location), wantDayEnd), nil
}

func newTimes(order clock.Order, zone *clock.Zone, wantDayEnd bool) *Times {
	return &Times{order: order, Zone: zone, cursor: zone.Cursor(), wantDayEnd: wantDayEnd}
}

// NewFishTimes is NewTimes for the tagging table, which may keep a zone and an
// order of its own.
func NewFishTimes(st *study.Study, wantDayEnd bool) (*Times, error) {
	if st.Check() != nil || st.Fish == nil {
		return NewTimes(st, wantDayEnd)
	}
	own := *st
	own.DateOrder = cmp.Or(st.Fish.DateOrder, st.DateOrder)
	if st.Fish.TimeZone != "" {
		own.Location = st.Fish.Location
	}
	return NewTimes(&own, wantDayEnd)
}

// Like starts a column that is written as c is, as far as that is settled.
func (c *Times) Like() *Times {
	n := newTimes(c.order, c.Zone, c.wantDayEnd)
	n.AtDay = c.AtDay
	n.points = c.points
	n.layout, n.settled, n.inherited, n.Said = c.layout, c.settled, c.settled, c.Said
	return n
}

// Add takes the record's field in a column of times and returns its number
// among those taken.
func (c *Times) Add(t *Table, column int) int {
	if t == nil {
		return -1
	}
	cell := t.Field(column)
	if IsMissing(cell) {
		cell = ""
	}
	return c.add(t, column, waitingTime{cell: cell, line: t.Line()})
}

// AddJoined is Add of a date and a time of day that stand in two columns; the
// time may be missing.
func (c *Times) AddJoined(t *Table, date, timeOfDay int) int {
	if t == nil {
		return -1
	}
	cell, points := t.Field(date), ""
	switch {
	case IsMissing(cell):
		cell = ""
	case !t.Missing(timeOfDay):
		day, clocked := []byte(cell), []byte(t.Field(timeOfDay))
		c.points = c.points || clock.IsPointTime(clocked)
		cell, points = string(clock.AppendJoined(nil, day, clocked, c.points)), string(clock.AppendJoined(nil, day, clocked, true))
	}
	return c.add(t, date, waitingTime{cell, t.Line(), points})
}

func (c *Times) add(t *Table, column int, w waitingTime) int {
	if c.settled {
		c.read(t, column, w.cell, w.line)
		return len(c.Ms) - 1
	}
	if w.cell != "" {
		c.survey.Add([]byte(w.cell), w.line)
	}
	w.cell = strings.Clone(w.cell)
	c.waiting = append(c.waiting, w)
	n := len(c.waiting)
	if n >= EnoughTimes && c.survey.Settled() {
		c.Settle(t, column)
	}
	return n - 1
}

// Len is how many times were added.
func (c *Times) Len() int { return len(c.Ms) + len(c.waiting) }

// Settle reads what waited; column is -1 where the table has no such column.
// The table is at fault where no layout can be settled.
func (c *Times) Settle(t *Table, column int) {
	if c.settled || t == nil || column < 0 || column >= len(t.Header) {
		return
	}
	var err error
	if c.layout, c.Said, err = c.survey.Settle(c.order); err != nil {
		t.FaultAt(1, "column %q: %v", t.Header[column], err)
	}
	c.settled = true
	for _, w := range c.waiting {
		if err != nil {
			w.cell = "" // one fault tells enough
		} else if c.points && w.points != "" {
			w.cell = w.points
		}
		c.read(t, column, w.cell, w.line)
	}
	c.waiting = nil
}

// read takes the next time. A value at fault is noted in t.
func (c *Times) read(t *Table, column int, cell string, line int) {
	c.Ms = append(c.Ms, history.NoTime)
	if c.wantDayEnd {
		c.DayEnd = append(c.DayEnd, 0)
	}
	if len(cell) == 0 {
		return
	}
	c.cell = append(c.cell[:0], cell...)
	v, fault := c.dates.Parse(c.layout, c.cell)
	if fault != clock.OK {
		t.FaultAt(line, "column %q: %q: %v", t.Header[column], cell, fault)
		return
	}
	if v.DateOnly {
		if c.DateOnly == 0 {
			c.FirstDate = int32(line)
		}
		c.DateOnly++
		if c.AtDay != nil {
			v.Ms, v.DateOnly = v.Ms+c.AtDay.Milliseconds(), false
		}
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
	c.Ms[len(c.Ms)-1] = v.Ms
	if c.wantDayEnd {
		c.DayEnd[len(c.DayEnd)-1] = end
	}
	if how != clock.Once {
		if c.Never+c.Twice == 0 {
			c.FirstDoubt = int32(line)
		}
		if how == clock.Never {
			c.Never++
		} else {
			c.Twice++
		}
	}
}

// Join puts the times of the same column of the table's next part behind those
// of c, as if they had been added one by one; false where the part settled by
// itself how they are written.
func (c *Times) Join(t *Table, column int, o *Times) bool {
	if t == nil || o == nil {
		return false
	}
	if !o.settled {
		for _, w := range o.waiting {
			c.add(t, column, w)
		}
		c.points = c.points || o.points
		return true
	}
	if !o.inherited {
		return false
	}
	if c.Never+c.Twice == 0 {
		c.FirstDoubt = o.FirstDoubt
	}
	if c.DateOnly == 0 {
		c.FirstDate = o.FirstDate
	}
	c.DateOnly += o.DateOnly
	c.Never, c.Twice = c.Never+o.Never, c.Twice+o.Twice
	c.Ms, c.DayEnd = append(c.Ms, o.Ms...), append(c.DayEnd, o.DayEnd...)
	return true
}

// Instants are the column's times; what its own values settled is noted.
func (c *Times) Instants(t *Table, column int) []int64 {
	c.Settle(t, column)
	if c.Said != "" && t != nil {
		t.Note("%s", c.Said)
	}
	return c.Ms
}

// Noons are Instants, but noon for a date without a time of day. The ends of
// days must be wanted.
func (c *Times) Noons(t *Table, column int) []int64 {
	c.Instants(t, column)
	if !c.wantDayEnd {
		return c.Ms
	}
	for i, ms := range c.Ms {
		if end := c.DayEnd[i]; end != ms && ms != history.NoTime {
			c.Ms[i] = ms + (end+1-ms)/2
		}
	}
	return c.Ms
}
