package ingest

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"example.org/unseen/history"
	"example.org/unseen/history/study"
	"example.org/unseen/history/table"
)

// ReadConditions reads the table of [conditions]: one record a site and day,
// with columns date and site and one for each condition. All faults of the
// table are returned together, as *[history.Faults].
func ReadConditions(ctx context.Context, st *study.Study) (*history.Conditions, []history.Input, error) {
	if err := st.Check(); err != nil {
		return nil, nil, err
	}
	if st.Conditions == nil {
		return nil, nil, errors.New("the study has no [conditions]")
	}
	t, err := table.OpenFor(ctx, st.Conditions)
	if err != nil {
		return nil, nil, err
	}
	defer t.Close()
	c, err := readConditions(st, t)
	if err != nil {
		return nil, nil, err
	}
	return c, []history.Input{t.Input()}, nil
}

func readConditions(st *study.Study, t *table.Table) (*history.Conditions, error) {
	river := st.River()
	m := table.MapColumns(t, st.Conditions)
	date, site := m.Find("date", true), m.Find("site", true)
	c := &history.Conditions{}
	var columns []int
	c.Names, columns = m.Rest("condition")
	if len(columns) == 0 {
		m.Faults.Add(t.Pos(), "no column besides date and site: there is no condition")
	}
	if err := m.Faults.Err(); err != nil {
		return nil, err
	}
	for range c.Names {
		c.Value = append(c.Value, make([]map[int32]float64, len(river.Sites)))
	}
	for k := range river.Sites {
		c.Zone = append(c.Zone, st.Sites[k].Location)
	}
	dates, err := table.NewTimes(st, false)
	if err != nil {
		return nil, err
	}
	var at, lines []int
	var values [][]float64
	for t.Next() {
		k := t.Site(site, &river)
		if t.Missing(date) {
			t.Fault(date, "the date is missing")
		}
		dates.Add(t, date)
		at, lines = append(at, k), append(lines, t.Line())
		row := make([]float64, len(columns))
		for n, col := range columns {
			if row[n] = math.NaN(); !t.Missing(col) {
				row[n], _ = t.Number(col)
			}
		}
		values = append(values, row)
	}
	times := dates.Instants(t, date)
	for i, ms := range times {
		if ms == history.NoTime || at[i] < 0 {
			continue
		}
		day := history.Day(time.UnixMilli(ms).In(st.Location))
		for n, v := range values[i] {
			if math.IsNaN(v) {
				continue
			}
			if c.Value[n][at[i]] == nil {
				c.Value[n][at[i]] = map[int32]float64{}
			}
			if _, twice := c.Value[n][at[i]][day]; twice {
				t.FaultAt(lines[i], "%s at %q has two values for %s", c.Names[n], river.Sites[at[i]].Name, history.DayDate(day))
			}
			c.Value[n][at[i]][day] = v
		}
	}
	if err := t.Err(); err != nil {
		return nil, err
	}
	if len(times) == 0 {
		return nil, fmt.Errorf("%s: the table has a header but no record", t.File)
	}
	return c, nil
}
