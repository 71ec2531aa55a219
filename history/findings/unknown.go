package findings

import (
	"fmt"
	"strconv"
	"strings"

	"example.org/unseen/history"
	"example.org/unseen/history/sighting"
)

// shownTags is how many unknown tags are named.
const shownTags = 3

// unknownTags names the tags that are no fish, the most read first, and the
// columns of the fish table in which they stand; column is that of most.
func unknownTags(h *history.Histories, seen *sighting.Result) (about, column string) {
	tags := seen.UnknownTags()
	var shown []string
	for _, t := range tags[:min(len(tags), shownTags)] {
		if t.Tag != "" {
			shown = append(shown, history.Say("%s (%d)", t.Tag, t.Reads))
		}
	}
	about = strings.Join(shown, ", ")
	if len(tags) > len(shown) && len(shown) > 0 {
		about += ", …"
	}
	most := 0
	for i := range h.Columns {
		c := &h.Columns[i]
		n, reads := 0, int64(0)
		eachCell(c, func(cell string) {
			if r, ok := seen.IsUnknown(cell); ok {
				n, reads = n+1, reads+r
			}
		})
		if n == 0 {
			continue
		}
		if about != "" {
			about += "; "
		}
		about += history.Say("column %q of the fish table holds %d of them, read %d times", c.Name, n, reads)
		if n > most {
			most, column = n, c.Name
		}
	}
	return about, column
}

// maybeTests asks about unknown tags that are read at the same times of each day;
// "" where none is.
func maybeTests(seen *sighting.Result) string {
	var list, said []string
	for _, t := range seen.UnknownTags() {
		if t.Every > 0 && t.Tag != "" && len(list) < 12 {
			list, said = append(list, strconv.Quote(t.Tag)), append(said, fmt.Sprintf("%s every %v hours", t.Tag, t.Every.Hours()))
		}
	}
	if len(list) == 0 {
		return ""
	}
	return fmt.Sprintf("test tags? These are read at the same times of each day: %s. If so, say under [rules] test_tags = [%s]", strings.Join(said, ", "), strings.Join(list, ", "))
}

// eachCell gives the values of a column that may be tags, each once if it is a
// category. A code of 15 digits is exact as a number.
func eachCell(c *history.Column, f func(cell string)) {
	for _, level := range c.Levels {
		f(level)
	}
	for _, v := range c.Value {
		if v >= 1e11 && v < 1e15 && v == float64(int64(v)) {
			f(strconv.FormatInt(int64(v), 10))
		}
	}
}
