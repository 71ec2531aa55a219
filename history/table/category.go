package table

import (
	"slices"
	"strings"

	"example.org/unseen/history"
)

// Category gathers the levels of a category, record by record. The zero value is
// ready for use.
type Category struct {
	// Level is each record's level, numbered as the levels came; -1 is missing.
	Level []int32

	index map[string]int32 // number by name
}

// Add takes the next record's level and returns its number.
func (c *Category) Add(name string) int32 {
	k := c.number(name)
	c.Level = append(c.Level, k)
	return k
}

// number is that of a level, which is a new one where it was not met before.
func (c *Category) number(name string) int32 {
	k, ok := c.index[name]
	if !ok {
		if c.index == nil {
			c.index = map[string]int32{}
		}
		k = int32(len(c.index))
		c.index[strings.Clone(name)] = k
	}
	return k
}

// Join puts the records of another category behind those of c.
func (c *Category) Join(o *Category) {
	if o == nil {
		return
	}
	to := make([]int32, len(o.index))
	for name, k := range o.index {
		to[k] = c.number(name)
	}
	for _, k := range o.Level {
		if k = min(k, int32(len(to))-1); k >= 0 {
			k = to[k]
		}
		c.Level = append(c.Level, k)
	}
}

// Ranks are the names of the levels in natural order, whatever the order of the
// records, and for each level by its number its place among them.
func (c *Category) Ranks() (names []string, place []int32) {
	names = make([]string, 0, len(c.index))
	for name := range c.index {
		names = append(names, name)
	}
	slices.SortFunc(names, history.NaturalCompare)
	place = make([]int32, len(names))
	for i, name := range names {
		place[c.index[name]] = int32(i)
	}
	return names, place
}

// Finish are the names of the levels in natural order, and each record's level
// as a place among them. c is of no use afterwards.
func (c *Category) Finish() (names []string, level []int32) {
	names, place := c.Ranks()
	for i, k := range c.Level {
		if k = min(k, int32(len(place))-1); k >= 0 {
			c.Level[i] = place[k]
		}
	}
	return names, c.Level
}
