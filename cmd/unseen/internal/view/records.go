package view

import (
	"reflect"
	"strconv"
	"strings"

	"example.org/unseen/cjs"
	"example.org/unseen/cmd/unseen/internal/wire"
)

// A table of answers is made from the records of its JSON document: a column
// names the key, and the kind of its cells follows from what is under it.

// field is a column, and where its cells come from.
type field struct {
	Column
	// path leads to the value by JSON keys joined by dots; an embedded struct
	// goes by its type's name.
	path   string
	cell   func(i int) Cell // in place of a path
	marked bool
	factor float64 // of numbers; 0 is 1
}

// col is the column of a key, under it in CSV; without a title it is not shown
// to people.
func col(key, title string, digits ...int) field {
	f := field{Column: Column{Name: key, Title: title}, path: key}
	if digits != nil {
		f.Digits = digits[0]
	}
	return f
}

// made is a column whose cells are made for it.
func made(name, title string, cell func(i int) Cell) field {
	return field{Column: Column{Name: name, Title: title}, cell: cell}
}

// words is a column of words made for it.
func words(name, title string, word func(i int) string) field {
	return made(name, title, func(i int) Cell { return T(word(i)) })
}

// from takes the cells from another path than the name.
func (f field) from(path string) field { f.path = path; return f }

// onScreen leaves the column out of CSV.
func (f field) onScreen() field { f.Name = ""; return f }

// key says that the column tells what a record is about.
func (f field) key() field { f.Key = true; return f }

// detail leaves the column out where all has to stand on one screen.
func (f field) detail() field { f.Detail = true; return f }

// kind is that of the cells of a made column.
func (f field) kind(k Kind, digits int) field { f.Kind, f.Digits = k, digits; return f }

// holds says what the words of a column stand for.
func (f field) holds(h Holds) field { f.Holds = h; return f }

// times shows numbers in another unit than JSON has them.
func (f field) times(factor float64) field { f.factor = factor; return f }

// noted marks a number with the footnote of its estimate's status.
func (f field) noted() field { f.marked = true; return f }

// records makes a table of a list of records.
func records[T any](id string, list []T, fields ...field) Table {
	t := Table{ID: id, Rows: make([][]Cell, len(list))}
	for i := range t.Rows {
		t.Rows[i] = make([]Cell, len(fields))
	}
	for j, f := range fields {
		path := strings.Split(f.path, ".")
		if f.cell == nil {
			at := fieldAt(reflect.TypeFor[T](), path)
			f.Kind = kindOf(at.Type)
			if at.Tag.Get("schema") == "words" {
				f.Holds = Prose
			}
		}
		t.Columns = append(t.Columns, f.Column)
		for i := range list {
			if f.cell != nil {
				t.Rows[i][j] = f.cell(i)
				continue
			}
			parent, v := valueAt(reflect.ValueOf(&list[i]).Elem(), path)
			t.Rows[i][j] = cellOf(v, f.Kind)
			if f.factor != 0 {
				t.Rows[i][j].Value *= f.factor
			}
			if e, ok := parent.(wire.Estimate); ok && f.marked {
				t.Rows[i][j].Mark = statusMark(e.Status)
				if e.Status == cjs.TooEarly {
					t.Rows[i][j].Text = "early"
				}
			}
		}
	}
	return t
}

// fieldNamed finds the field of a JSON key, in embedded structs too, or an
// embedded struct by its name.
func fieldNamed(t reflect.Type, key string) []int {
	for i := range t.NumField() {
		f := t.Field(i)
		if name, _, _ := strings.Cut(f.Tag.Get("json"), ","); name == key || f.Anonymous && f.Name == key {
			return f.Index
		}
		if f.Anonymous {
			if in := fieldNamed(f.Type, key); in != nil {
				return append([]int{i}, in...)
			}
		}
	}
	return nil
}

// fieldAt is the field that a path of keys leads to.
func fieldAt(t reflect.Type, path []string) (out reflect.StructField) {
	for _, key := range path {
		if t.Kind() == reflect.Pointer {
			t = t.Elem()
		}
		index := fieldNamed(t, key)
		if index == nil {
			panic("a table asks " + t.String() + " for " + key)
		}
		out = t.FieldByIndex(index)
		t = out.Type
	}
	return out
}

// valueAt is the value under a path with the one it stands in; an invalid one
// where a pointer on the way is nil.
func valueAt(v reflect.Value, path []string) (parent any, _ reflect.Value) {
	for _, key := range path {
		if v.Kind() == reflect.Pointer {
			if v.IsNil() {
				return nil, reflect.Value{}
			}
			v = v.Elem()
		}
		parent = v.Interface()
		v = v.FieldByIndex(fieldNamed(v.Type(), key))
	}
	if v.Kind() == reflect.Pointer {
		return parent, v.Elem() // invalid of nil
	}
	return parent, v
}

func kindOf(t reflect.Type) Kind {
	if t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	switch t.Kind() {
	case reflect.Struct:
		return Range
	case reflect.Float64:
		return Number
	case reflect.Int, reflect.Int64:
		return Count
	default:
		return Text
	}
}

func cellOf(v reflect.Value, kind Kind) Cell {
	switch {
	case !v.IsValid() && kind == Text:
		return T("")
	case !v.IsValid():
		return None()
	case kind == Range:
		return spanOf(v.Interface().(wire.Estimate))
	case kind == Number:
		return N(v.Float())
	case kind == Count:
		return I(v.Int())
	case v.Kind() == reflect.Bool:
		return T(strconv.FormatBool(v.Bool()))
	case v.Kind() == reflect.Slice:
		return T(strings.Join(v.Interface().([]string), "; "))
	default:
		return T(v.String())
	}
}

// spanOf is the cell of an estimate.
func spanOf(e wire.Estimate) Cell {
	c := R(float64(e.Estimate), float64(e.Low), float64(e.High)).Marked(statusMark(e.Status))
	if e.Status == cjs.TooEarly {
		c.Text = "early"
	}
	return c
}

// footnotes explain the statuses of estimates that are not plainly estimated.
var footnotes = map[cjs.Status]Note{
	cjs.Inseparable: {"*", "not separately estimable from these data (not identifiable)"},
	cjs.Boundary:    {"†", "on the boundary (0 or 1): there is no standard error; the interval is by profile likelihood"},
	cjs.Borrowed:    {"‡", "borrowed: identified only through parameters that the model shares with other sites and reaches"},
	cjs.Held:        {"§", "held: fixed in the study file, not estimated"},
	cjs.Absent:      {"¶", "no data to estimate it from"},
	cjs.TooEarly:    {"‖", "season incomplete: too early to tell slow fish from dead ones; only an interval is given"},
}

func statusMark(s cjs.Status) string { return footnotes[s].Mark }
