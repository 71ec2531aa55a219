package assess

import (
	"fmt"
	"math"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// builder makes the tables of one class.
type builder struct {
	river   *history.River
	of      []cjs.Category
	class   int
	sums    *sums
	reduced bool
	outages *model.Outages
	out     map[string][]Table
}

func (b *builder) add(t Table) *Table {
	t.Of, t.class = b.of, b.class
	t.test()
	b.out[t.Check] = append(b.out[t.Check], t)
	list := b.out[t.Check]
	return &list[len(list)-1]
}

func (b *builder) build() {
	n := b.sums.sites
	for k := 1; k <= n-2; k++ {
		if b.reduced {
			break
		}
		// Where too few are newly tagged to be compared, fish seen before are
		// split by how often instead.
		if !b.newly(k) {
			b.earlier(k)
		}
	}
	all := b.sums.all()
	for k := 1; k <= n-3; k++ {
		b.unseen(all, k)
	}
	b.rows()
}

var seenAgain = []string{"detected again", "never detected again"}

// newly compares the newly tagged at site k with those seen before, and tells
// whether they could be compared.
func (b *builder) newly(k int) bool {
	tagged := b.sums.fresh[k]
	if tagged == nil {
		return false
	}
	before := make([]int, b.sums.sites+1)
	for _, c := range b.sums.before[k] {
		addInts(before, c)
	}
	lines := []string{"detected before", "newly tagged"}
	again := Table{Check: NewlySeenAgain, Site: k, Row: -1, Lines: lines, Columns: seenAgain,
		Counts: [][]int{againOrNever(before), againOrNever(tagged)}}
	next := Table{Check: NewlyWhereNext, Site: k, Row: -1, Lines: lines, Columns: b.nextAt(k + 1),
		Counts: [][]int{before[k+1 : b.sums.sites], tagged[k+1 : b.sums.sites]}}
	if b.outages.Below(k) { // they may have come at other times
		b.atLikeTimes(&again, &next, func(e event) int { return bit(e.past == fresh) })
	}
	t := b.add(again)
	if k <= b.sums.sites-3 {
		b.add(next)
	}
	return t.Counted
}

// earlier splits the fish seen at site k, and before it, by how often they
// were detected between their release and k: where that makes the two lines
// most even.
func (b *builder) earlier(k int) {
	if b.sums.before[k] == nil {
		return
	}
	often, seldom := make([]int, b.sums.sites+1), make([]int, b.sums.sites+1)
	split, most := 0, -1
	for m := 1; m <= k-1; m++ {
		clear(often)
		clear(seldom)
		b.splitAt(k, m, often, seldom)
		if even := min(sum(often), sum(seldom)); even > most {
			split, most = m, even
		}
	}
	if split == 0 {
		return // no site between release and k
	}
	clear(often)
	clear(seldom)
	b.splitAt(k, split, often, seldom)
	lines := []string{fmt.Sprintf("detected at %d or more", split), "at fewer"}
	switch {
	case k == 2:
		at := b.river.Sites[1].Name
		lines = []string{"detected at " + at, "not detected at " + at}
	case split == 1:
		lines = []string{"detected between release and here", "not detected before"}
	}
	again := Table{Check: EarlierSeenAgain, Site: k, Row: -1, Often: split, Lines: lines, Columns: seenAgain,
		Counts: [][]int{againOrNever(often), againOrNever(seldom)}}
	next := Table{Check: EarlierWhereNext, Site: k, Row: -1, Often: split, Lines: lines, Columns: b.nextAt(k + 1),
		Counts: [][]int{often[k+1 : b.sums.sites], seldom[k+1 : b.sums.sites]}}
	if b.outages.Below(k) && (b.outages.Above(k) || b.sums.outage.mixed[k]) {
		b.atLikeTimes(&again, &next, func(e event) int {
			if e.past <= 0 { // newly tagged, or no site between
				return -1
			}
			return bit(e.past-1 < split)
		})
	}
	b.add(again)
	if k <= b.sums.sites-3 {
		b.add(next)
	}
}

// atLikeTimes gives the tables of fish at a site, seen again or not and where next,
// their sets of like times.
func (b *builder) atLikeTimes(again, next *Table, line func(event) int) {
	k, n, t := again.Site, b.sums.sites, b.sums.outage
	again.sets = t.sets(k, 2, line, func(e event) int { return bit(e.next == n) })
	next.sets = t.sets(k, n-1-k, line, func(e event) int {
		if e.next == n {
			return -1
		}
		return e.next - k - 1
	})
	again.Allowance, next.Allowance = LikeTimes, LikeTimes
}

func bit(b bool) int {
	if b {
		return 1
	}
	return 0
}

// splitAt adds the releases at k of fish detected m times or more before to
// often, of the others to seldom.
func (b *builder) splitAt(k, m int, often, seldom []int) {
	for c, n := range b.sums.before[k] {
		switch {
		case c == 0:
		case c-1 >= m:
			addInts(often, n)
		default:
			addInts(seldom, n)
		}
	}
}

// unseen compares the fish seen at site k with those that passed it unseen,
// all seen again below.
func (b *builder) unseen(all [][]int, k int) {
	n := b.sums.sites
	seen, missed := all[k][k+1:n], make([]int, n-k-1)
	for i := range k {
		addInts(missed, all[i][k+1:n])
	}
	allowance := ""
	if b.outages.Below(k) && (b.outages.At(k) || b.sums.fresh[k] != nil) {
		// Those missed may have passed at other times.
		allowance = AtWork
		seen, missed = b.sums.outage.passed[k][0][k+1:], b.sums.outage.passed[k][1][k+1:]
	}
	lines := []string{"detected", "passed unseen"}
	b.add(Table{Check: UnseenNextSeen, Site: k, Row: -1, Lines: lines,
		Allowance: allowance, Columns: []string{"next detected at " + b.river.Sites[k+1].Name, "next detected later"},
		Counts: [][]int{{seen[0], sum(seen[1:])}, {missed[0], sum(missed[1:])}}})
	if k <= n-4 {
		b.add(Table{Check: UnseenWhereLater, Site: k, Row: -1, Lines: lines, Allowance: allowance, Columns: b.nextAt(k + 2),
			Counts: [][]int{seen[1:], missed[1:]}})
	}
}

// rows compares neighbouring rows of divided sites on fish seen farther down:
// these passed the site whatever its rows saw.
func (b *builder) rows() {
	for k := 1; k < b.sums.sites; k++ {
		s := &b.river.Sites[k]
		for i := 0; i+1 < len(s.Rows); i++ {
			n := b.sums.rows[b.river.FirstRow(k)+i]
			allowance := ""
			if b.outages.At(k) {
				allowance = AtWork
			}
			t := b.add(Table{Check: RowsIndependent, Site: k, Row: i, Allowance: allowance,
				Lines:   []string{"detected at " + s.Rows[i], "missed at " + s.Rows[i]},
				Columns: []string{"detected at " + s.Rows[i+1], "missed at " + s.Rows[i+1]},
				Counts:  [][]int{{n[3], n[1]}, {n[2], n[0]}}})
			if k == b.sums.sites-1 {
				t.Why = "no site farther down shows which fish passed unseen"
			}
		}
	}
}

func (b *builder) nextAt(from int) []string {
	var out []string
	for _, s := range b.river.Sites[from:] {
		out = append(out, "next detected at "+s.Name)
	}
	return out
}

func againOrNever(n []int) []int {
	never := n[len(n)-1]
	return []int{sum(n) - never, never}
}

func sum(v []int) int {
	n := 0
	for _, x := range v {
		n += x
	}
	return n
}

// likeness compares the classes at every site: where the fish released there
// were next seen.
func likeness(river *history.River, of [][]cjs.Category, sums []sums, o *model.Outages) []Table {
	var out []Table
	n := len(river.Sites)
	alls := make([][][]int, len(sums))
	for g := range sums {
		alls[g] = sums[g].all()
	}
	for k := range n - 1 {
		t := Table{Check: CohortsAlike, Site: k, Row: -1, Past: categoryNames(of[0])}
		for _, s := range river.Sites[k+1:] {
			t.Columns = append(t.Columns, "next detected at "+s.Name)
		}
		t.Columns = append(t.Columns, "never detected again")
		for g := range sums {
			if line := alls[g][k][k+1:]; sum(line) > 0 {
				t.Counts = append(t.Counts, line)
				t.Lines = append(t.Lines, ofWords(of[g]))
			}
		}
		if len(t.Counts) < 2 {
			continue
		}
		if o.Below(k) {
			t.P, t.SmallestP = math.NaN(), math.NaN()
			t.Why = "the cohorts came at different times, and some site below did not work all the time"
			out = append(out, t)
			continue
		}
		t.test()
		t.Counted = false
		if t.Why == "" {
			t.Why = "likeness of cohorts is a hypothesis, not lack of fit"
		}
		out = append(out, t)
	}
	return out
}
