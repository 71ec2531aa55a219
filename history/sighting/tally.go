package sighting

import ()

// pos is a place among the files: the file's number and the line.
func pos(file, line int) int64 { return int64(file)<<40 | int64(line) }

func fileOf(pos int64) int { return int(pos >> 40) }

// tally counts something and remembers where it was first.
type tally struct {
	n     int64
	first int64 // of no meaning where n is 0
}

func (t *tally) add(at int64) { t.join(tally{1, at}) }

func (t *tally) join(o tally) {
	if t.n == 0 || o.n > 0 && o.first < t.first {
		t.first = o.first
	}
	t.n += o.n
}

// fishSet is a set of fish.
type fishSet []uint64

func (s *fishSet) add(i int32, n int) {
	if *s == nil {
		*s = make(fishSet, (n+63)/64)
	}
	(*s)[i>>6] |= 1 << (i & 63)
}

func (s *fishSet) join(o fishSet) {
	if *s == nil {
		*s = o
		return
	}
	for i := range o {
		(*s)[i] |= o[i]
	}
}

// nameCounts counts names of sites or antennas.
type nameCounts map[string]*int64

// maxNames bounds how many names outside the study are counted one by one.
const maxNames = 1 << 10

func (n nameCounts) add(name []byte) {
	name = bare(name)
	x := n[string(name)]
	if x == nil {
		if len(n) >= maxNames {
			return
		}
		x = new(int64)
		n[string(name)] = x
	}
	*x++
}

func (n nameCounts) join(o nameCounts) {
	for name, x := range o {
		if y := n[name]; y != nil {
			*y += *x
		} else {
			n[name] = x
		}
	}
}

// counts are the counts by name; nil where there were too many to count, and
// which of them were counted depends on chance.
func (n nameCounts) counts() map[string]int64 {
	if len(n) >= maxNames {
		return nil
	}
	out := map[string]int64{}
	for name, x := range n {
		out[name] = *x
	}
	return out
}
