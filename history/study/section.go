package study

import (
	"math"
	"time"
)

// Section is a table of a file that is written like a study file and shares
// tables with it, such as a plan. A key asked for is known; what is left when a
// section is [Section.Done] is a fault, as in a study file. Faults of all
// sections of a file are gathered.
type Section struct {
	t *table
	d *decoder
}

// of are its table and what decodes it; the zero value is that of an empty file.
func (s Section) of() (*decoder, *table) {
	if s.t == nil || s.d == nil {
		return new(decoder), new(table)
	}
	return s.d, s.t
}

// Value is what a key of a section holds; its zero value is that of none.
type Value struct {
	n *node
	d *decoder
}

// OpenSection reads the top of a file; name stands in messages.
func OpenSection(name string, data []byte) (Section, error) {
	root, err := parseTree(name, trimBOM(data))
	return Section{root, &decoder{}}, err
}

// Err are the faults of the file so far, as *[history.Faults].
func (s Section) Err() error {
	d, _ := s.of()
	return d.faults.Err()
}

// Faults counts them.
func (s Section) Faults() int {
	d, _ := s.of()
	return d.faults.Count()
}

// Fault notes a fault.
func (s Section) Fault(pos Pos, format string, args ...any) {
	d, _ := s.of()
	d.fault(pos, format, args...)
}

// Pos is where the section begins.
func (s Section) Pos() Pos {
	_, t := s.of()
	return t.pos
}

// Get is the value of a key.
func (s Section) Get(key string) Value {
	d, t := s.of()
	return Value{d.get(t, key), d}
}

// Has tells whether a key is given.
func (s Section) Has(key string) bool { return s.Get(key).Given() }

// Keys are those of the section, in the order of the file.
func (s Section) Keys() []string {
	_, t := s.of()
	return t.keys
}

// Text is a text without blanks at its ends; "" when absent.
func (s Section) Text(key string) (string, Pos) {
	d, t := s.of()
	return d.text(t, key)
}

// OneOf is a text out of a fixed set; "" when absent or refused.
func (s Section) OneOf(key string, allowed ...string) (string, Pos) {
	d, t := s.of()
	return d.oneOf(t, key, allowed...)
}

// Number is a finite number; NaN when absent or refused.
func (s Section) Number(key string) (float64, Pos) {
	d, t := s.of()
	return d.number(t, key)
}

// Count is a whole number from 0; absent it is a fault, and ok is false.
func (s Section) Count(key string) (v int, ok bool) {
	d, t := s.of()
	return d.count(t, key)
}

// Share is a number from 0 to 1.
func (s Section) Share(key string) float64 {
	d, t := s.of()
	return d.share(t, key)
}

// Sub is a table; ok is false when it is absent or refused.
func (s Section) Sub(key string) (sub Section, ok bool) {
	d, t := s.of()
	under := d.sub(t, key)
	return Section{under, d}, under != nil
}

// List is a list of tables, [[key]] in the file.
func (s Section) List(key string) []Section {
	var out []Section
	d, t := s.of()
	for _, t := range d.tables(t, key) {
		out = append(out, Section{t, d})
	}
	return out
}

// Done refuses every key that was not asked for.
func (s Section) Done() {
	d, t := s.of()
	d.done(t)
}

// Site, Hold and Model are tables of a study file; they are done then.
func (s Section) Site(zone *time.Location) Site {
	d, t := s.of()
	return d.site(t, zone)
}

// Hold is [Section.Site] of a [[hold]].
func (s Section) Hold() Hold {
	d, t := s.of()
	return d.hold(t)
}

// Model is [Section.Site] of a [[model]].
func (s Section) Model() Model {
	d, t := s.of()
	return d.model(t)
}

// Check notes what is wrong with the sites, holds and models of st together.
func (s Section) Check(st *Study) {
	if st == nil {
		return
	}
	d, _ := s.of()
	d.checkSites(st, Pos{File: st.Path, Line: 1, Column: 1})
	d.checkKm(st)
	d.checkHolds(st)
	d.checkModels(st)
}

// Given tells whether there is a value.
func (v Value) Given() bool { return v.n != nil && v.d != nil }

func (v Value) held() any {
	if !v.Given() {
		return nil
	}
	return v.n.value
}

// Pos is where it stands.
func (v Value) Pos() Pos {
	if !v.Given() {
		return Pos{}
	}
	return v.n.pos
}

// Number is the value as a finite number; NaN when it is refused.
func (v Value) Number(key string) float64 {
	if !v.Given() {
		return math.NaN()
	}
	return v.d.numberOf(v.n, key)
}

// Whole is the value as a whole number, where it is one.
func (v Value) Whole() (n int64, ok bool) { n, ok = v.held().(int64); return n, ok }

// List are the values of a list, where it is one.
func (v Value) List() (out []Value, ok bool) {
	list, ok := v.held().([]*node)
	for _, n := range list {
		out = append(out, Value{n, v.d})
	}
	return out, ok
}

// Table is the value as a table, where it is one.
func (v Value) Table() (Section, bool) {
	t, ok := v.held().(*table)
	return Section{t, v.d}, ok
}

// Wrong notes that the value of a key is not what it must be.
func (v Value) Wrong(key, want string) {
	if v.Given() {
		v.d.wrong(v.n, key, want)
	}
}

// RowNames are the names of the rows of a site.
func (s *Site) RowNames() []string { return s.rowNames() }

// Hint ends a message about an unknown word: the one that was likely meant, or
// else all there are.
func Hint(word string, known []string) string { return hint(word, known) }
