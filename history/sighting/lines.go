package sighting

import (
	"bytes"
	"unicode/utf8"

	"example.org/unseen/history/clock"
	"example.org/unseen/history/internal/dialect"
	"example.org/unseen/history/rule"
	"example.org/unseen/history/table"
)

// eachBatch calls f for every few records of a block. All go through one step
// before any goes on to the next: while one waits for the memory the others
// need not.
func (c *reader) eachBatch(b *block, f func(recs []record)) {
	c.recent.use(b.layout)
	c.layout = b.layout
	c.n, c.text = 0, nil
	end := func() {
		recs := c.batch[:c.n]
		c.readTags(recs, b.layout)
		c.readPlaces(recs, b.layout)
		c.readTimes(recs, b.layout)
		c.decide(recs)
		f(recs)
		c.n = 0
	}
	switch {
	case b.TooLong:
		c.next(b.Line).parts = parts{}
	case bytes.IndexByte(b.Data, '"') < 0 && bytes.IndexByte(b.Data, 0) < 0:
		c.plainLines(b, end)
	default:
		c.anyLines(b, end)
	}
	if c.n > 0 {
		end()
	}
}

func (w *worker) block(b *block) {
	w.eachBatch(b, func(recs []record) {
		w.records += int64(len(recs))
		for i := range recs {
			r := &recs[i]
			if r.rule == rule.None {
				w.activity[r.place].add(r.ms)
				w.cells.add(int(r.fish)*w.rows+w.at[r.place].row, r.ms, b.number)
			} else {
				w.setAside(r, pos(b.file, r.line))
			}
			if r.how != clock.Once || w.observe != nil {
				w.notice(r, pos(b.file, r.line))
			}
		}
	})
}

// next gives the batch's next record, as unreadable as it is yet.
func (c *reader) next(line int) *record {
	r := &c.batch[c.n]
	c.n++
	r.line, r.tagKey, r.ms = line, 0, 0
	r.fish, r.place, r.recent = -1, unknownSite, -1
	r.rule, r.how, r.fault = rule.Unreadable, clock.Once, clock.OK
	return r
}

// plainLines takes the lines of a block without quotes and NULs apart, and calls
// full for each full batch.
func (c *reader) plainLines(b *block, full func()) {
	data, l := b.Data, b.layout
	if n := len(data); n > 0 && data[n-1] != '\n' {
		data = append(data, '\n')
	}
	c.text = data
	c.marks = dialect.Mark(c.marks, data, l.delim)
	line := b.Line
	for marks := c.marks; len(marks) > 1; line++ {
		n := 1
		for data[marks[n]] != '\n' {
			n++
		}
		start, end := int(marks[0]+1), int(marks[n])
		if end > start && data[end-1] == '\r' {
			end--
		}
		if start < end && (filled(data[start]) || len(bytes.TrimSpace(data[start:end])) > 0) {
			r := c.next(line)
			if end-start <= table.MaxRecord && l.fits(n, data[start:end]) {
				r.take(marks[:n+1], end, &l.columns)
			} else {
				r.parts = parts{}
			}
			if c.n == batchSize {
				full()
			}
		}
		marks = marks[n:]
	}
}

// filled tells a byte that is no blank, nor the first of one.
func filled(c byte) bool { return ' ' < c && c < utf8.RuneSelf }

// anyLines is plainLines for any block. What its lines say is put together
// anew, without the quotes.
func (c *reader) anyLines(b *block, full func()) {
	l := b.layout
	c.split.Delimiter, c.split.Text = l.delim, c.split.Text[:0]
	b.Lines(func(line []byte, number int) bool {
		r := c.next(number)
		r.parts = parts{}
		if len(line) <= table.MaxRecord && bytes.IndexByte(line, 0) < 0 {
			if f, ok := c.split.Add(line); ok && l.fits(f.Count(), line) {
				r.take(f.Marks, len(f.Text), &l.columns)
			}
		}
		if c.text = c.split.Text; c.n == batchSize {
			full()
			c.split.Text = c.split.Text[:0]
		}
		return false
	})
}
