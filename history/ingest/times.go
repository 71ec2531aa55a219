package ingest

import (
	"example.org/unseen/history"
	"example.org/unseen/history/clock"
	"example.org/unseen/history/read"
	"example.org/unseen/history/study"
)

// enoughTimes is how many times of a column are looked at in any case before
// its layout counts as settled; those after it that differ are faults.
const enoughTimes = 1000

// timeColumn gathers a column of times until its layout is settled.
type timeColumn struct {
	survey clock.Survey
	cells  []byte
	ends   []int32
	lines  []int32
}

func (c *timeColumn) add(cell string, line int) int {
	if cell != "" && (len(c.ends) < enoughTimes || !c.survey.Settled()) {
		c.survey.Add([]byte(cell), line)
	}
	c.cells = append(c.cells, cell...)
	c.ends, c.lines = append(c.ends, int32(len(c.cells))), append(c.lines, int32(line))
	return len(c.ends) - 1
}

// join puts the times of another column behind those of c; false where c does
// not tell the layout by itself.
func (c *timeColumn) join(o *timeColumn) bool {
	if len(o.ends) == 0 {
		return true
	}
	if len(c.ends) < enoughTimes || !c.survey.Settled() {
		return false
	}
	shift := int32(len(c.cells))
	c.cells, c.lines = append(c.cells, o.cells...), append(c.lines, o.lines...)
	for _, end := range o.ends {
		c.ends = append(c.ends, end+shift)
	}
	return true
}

func (c *timeColumn) cell(i int) []byte {
	from := int32(0)
	if i > 0 {
		from = c.ends[i-1]
	}
	return c.cells[from:c.ends[i]]
}

// moments are the times of a column in Unix milliseconds.
type moments struct {
	ms []int64
	// dayEnd is, for a date without a time of day, the last millisecond of
	// the day; else ms. nil where it is not wanted.
	dayEnd       []int64
	never, twice int
	firstDoubt   int32 // line
}

// settle reads the column. Values at fault are noted in t.
func (c *timeColumn) settle(t *read.Table, column int, order clock.Order, zone *clock.Zone, ends bool) (m moments, said string) {
	layout, said, err := c.survey.Settle(order)
	if err != nil {
		t.FaultAt(1, "column %q: %v", t.Header[column], err)
		return m, ""
	}
	m.ms = make([]int64, len(c.ends))
	if ends {
		m.dayEnd = make([]int64, len(c.ends))
	}
	cursor := zone.Cursor()
	var dates clock.Dates
	for i := range m.ms {
		cell := c.cell(i)
		m.ms[i] = history.NoTime
		if len(cell) == 0 {
			continue
		}
		v, fault := dates.Parse(layout, cell)
		if fault != clock.OK {
			t.FaultAt(int(c.lines[i]), "column %q: %q: %v", t.Header[column], cell, fault)
			continue
		}
		how := clock.Once
		end := v.Ms
		if v.DateOnly {
			end += 86_400_000
		}
		if !v.Absolute {
			v.Ms, how = cursor.Instant(v.Ms)
			end, _ = cursor.Instant(end)
		}
		if v.DateOnly {
			end--
			how = clock.Once // midnight stands for the day, not for itself
		}
		m.ms[i] = v.Ms
		if ends {
			m.dayEnd[i] = end
		}
		if how != clock.Once {
			if m.never+m.twice == 0 {
				m.firstDoubt = c.lines[i]
			}
			if how == clock.Never {
				m.never++
			} else {
				m.twice++
			}
		}
	}
	return m, said
}

// addField takes the record's field in a column of times.
func (c *timeColumn) addField(t *read.Table, column int) {
	cell := ""
	if !t.Missing(column) {
		cell = t.Field(column)
	}
	c.add(cell, t.Line())
}

// instants are the column's times in Unix milliseconds, [history.NoTime] where
// missing; what the column's own values settled is noted.
func (c *timeColumn) instants(t *read.Table, column int, st *study.Study) []int64 {
	order, err := clock.ParseOrder(st.DateOrder)
	if err != nil {
		t.FaultAt(1, "%v", err)
		return nil
	}
	m, said := c.settle(t, column, order, clock.NewZone(location(st.Location)), false)
	if said != "" {
		t.Note("%s", said)
	}
	return m.ms
}
