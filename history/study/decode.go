package study

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"example.org/unseen/history"
)

// decoder takes typed values out of the tree and notes every fault on the way.
// A key that was never asked for is unknown.
type decoder struct {
	faults history.Faults
}

func (d *decoder) fault(pos Pos, format string, args ...any) { d.faults.Add(pos, format, args...) }

// describe says what a value is, for messages.
func describe(v any) string {
	switch v := v.(type) {
	case string:
		return "the text " + strconv.Quote(v)
	case int64, float64:
		return fmt.Sprintf("the number %v", v)
	case bool:
		return fmt.Sprintf("%v", v)
	case toml.LocalDate:
		return "the date " + v.String()
	case []*node:
		return "a list"
	case *table:
		return "a table"
	}
	return fmt.Sprintf("the time %v", v)
}

func (d *decoder) wrong(n *node, key, want string) {
	d.fault(n.pos, "%s must be %s, not %s", key, want, describe(n.value))
}

func (d *decoder) get(t *table, key string) *node {
	t.asked = append(t.asked, key)
	return t.nodes[key]
}

// text is a string without blanks at its ends; "" when absent.
func (d *decoder) text(t *table, key string) (string, Pos) {
	n := d.get(t, key)
	if n == nil {
		return "", t.pos
	}
	s, ok := n.value.(string)
	if !ok {
		d.wrong(n, key, "text in quotes")
		return "", n.pos
	}
	if s = strings.TrimSpace(s); s == "" {
		d.fault(n.pos, "%s is empty; give it a value or leave it out", key)
	}
	return s, n.pos
}

// oneOf is a text out of a fixed set; "" when absent or refused.
func (d *decoder) oneOf(t *table, key string, allowed ...string) (string, Pos) {
	s, pos := d.text(t, key)
	if s == "" {
		return "", pos
	}
	for _, a := range allowed {
		if strings.EqualFold(s, a) {
			return a, pos
		}
	}
	d.fault(pos, "%s cannot be %q%s", key, s, hint(s, allowed))
	return "", pos
}

// texts is a list of strings, or a single one.
func (d *decoder) texts(t *table, key string) ([]string, Pos) {
	n := d.get(t, key)
	if n == nil {
		return nil, t.pos
	}
	return d.textList(n, key), n.pos
}

func (d *decoder) textList(n *node, key string) []string {
	list, ok := n.value.([]*node)
	if !ok {
		list = []*node{n}
	}
	var out []string
	for _, x := range list {
		s, ok := x.value.(string)
		if !ok {
			d.wrong(x, key, "text in quotes, or a list of texts")
			continue
		}
		if s = strings.TrimSpace(s); s == "" {
			d.fault(x.pos, "%s holds an empty text", key)
			continue
		}
		out = append(out, s)
	}
	return out
}

// number is a finite number; NaN when absent or refused.
func (d *decoder) number(t *table, key string) (float64, Pos) {
	n := d.get(t, key)
	if n == nil {
		return math.NaN(), t.pos
	}
	return d.numberOf(n, key), n.pos
}

// largest is beyond any quantity of a river or a fish, in whatever unit: sums and
// products of such numbers stay finite.
const largest = 1e12

func (d *decoder) numberOf(n *node, key string) float64 {
	var v float64
	switch x := n.value.(type) {
	case int64:
		v = float64(x)
	case float64:
		v = x
	default:
		d.wrong(n, key, "a number")
		return math.NaN()
	}
	if math.IsNaN(v) || math.IsInf(v, 0) {
		d.wrong(n, key, "a finite number")
		return math.NaN()
	}
	if math.Abs(v) > largest {
		d.wrong(n, key, fmt.Sprintf("a number from %g to %g", -largest, largest))
		return math.NaN()
	}
	return v
}

// positive is a number above 0; 0 when absent or refused.
func (d *decoder) positive(t *table, key string) (float64, Pos) {
	v, pos := d.number(t, key)
	if math.IsNaN(v) {
		return 0, pos
	}
	if v <= 0 {
		d.fault(pos, "%s is %v; it must be above 0", key, v)
		return 0, pos
	}
	return v, pos
}

// count is a whole number from 0 that fits an int32; ok is false when it is
// absent or refused, and absent is a fault.
func (d *decoder) count(t *table, key string) (v int, ok bool) {
	n := d.get(t, key)
	if n == nil {
		d.fault(t.pos, "%s needs %s, a whole number", t.title, key)
		return 0, false
	}
	x, ok := n.value.(int64)
	if !ok || x < 0 || x > math.MaxInt32 {
		d.wrong(n, key, fmt.Sprintf("a whole number from 0 to %d", math.MaxInt32))
		return 0, false
	}
	return int(x), true
}

// textMap is a table of texts, with the places of its keys. Numbers are taken
// as written where loose is set.
func (d *decoder) textMap(t *table, key string, loose bool) (map[string]string, map[string]Pos) {
	sub := d.sub(t, key)
	if sub == nil {
		return nil, nil
	}
	m, pos := map[string]string{}, map[string]Pos{}
	for _, k := range sub.keys {
		n := sub.nodes[k]
		switch v := n.value.(type) {
		case string:
			m[k] = strings.TrimSpace(v)
		case int64:
			if !loose {
				d.wrong(n, key+"."+k, "text in quotes")
				continue
			}
			m[k] = strconv.FormatInt(v, 10)
		default:
			d.wrong(n, key+"."+k, "text in quotes")
			continue
		}
		if m[k] == "" {
			d.fault(n.pos, "%s.%s is empty", key, k)
			delete(m, k)
			continue
		}
		pos[k] = n.pos
	}
	return m, pos
}

// sub is a table; nil when absent or refused.
func (d *decoder) sub(t *table, key string) *table {
	n := d.get(t, key)
	if n == nil {
		return nil
	}
	s, ok := n.value.(*table)
	if !ok {
		d.wrong(n, key, "a table")
		return nil
	}
	s.title = "[" + key + "]"
	return s
}

// tables is a list of tables, [[key]] in the file.
func (d *decoder) tables(t *table, key string) []*table {
	n := d.get(t, key)
	if n == nil {
		return nil
	}
	list, ok := n.value.([]*node)
	if !ok {
		if _, single := n.value.(*table); single && inLine[key] == "" {
			d.fault(n.pos, "write [[%s]] with two brackets: there can be several", key)
		} else {
			d.wrong(n, key, listWanted(key))
		}
		return nil
	}
	var out []*table
	for _, x := range list {
		s, ok := x.value.(*table)
		if !ok {
			d.wrong(x, key, listWanted(key))
			continue
		}
		s.title = "[[" + key + "]]"
		out = append(out, s)
	}
	return out
}

// inLine are lists of tables that stand in one line, as the documents write them.
var inLine = map[string]string{"clock": "clock = [{ seconds = 3600 }]"}

func listWanted(key string) string {
	if line := inLine[key]; line != "" {
		return "a list of corrections, such as " + line
	}
	return "a list of tables, each under [[" + key + "]]"
}

// moment is a time; without an offset it is of the zone loc. A date is its
// first moment.
func (d *decoder) moment(n *node, key string, loc *time.Location) time.Time {
	switch v := n.value.(type) {
	case time.Time:
		return v
	case toml.LocalDateTime:
		return v.AsTime(loc)
	case toml.LocalDate:
		return dayStart(v, loc)
	}
	d.wrong(n, key, "a date or time without quotes, such as 2025-05-20T12:00:00")
	return time.Time{}
}

func dayStart(d toml.LocalDate, loc *time.Location) time.Time {
	return history.DayStart(d.Year, time.Month(d.Month), d.Day, loc)
}

// zone loads an IANA time zone; "" and def when absent or refused.
func (d *decoder) zone(t *table, key string, def *time.Location) (string, *time.Location) {
	name, pos := d.text(t, key)
	if name == "" {
		return "", def
	}
	loc, err := time.LoadLocation(name)
	if err != nil || name == "Local" {
		d.fault(pos, "%s: no time zone is called %q; give its IANA name, such as \"Europe/Dublin\" or \"UTC\"", key, name)
		return "", def
	}
	return name, loc
}

// done refuses the keys nobody asked for.
func (d *decoder) done(t *table) {
	known := map[string]bool{}
	for _, k := range t.asked {
		known[k] = true
	}
	for _, k := range t.keys {
		if known[k] {
			continue
		}
		where := ""
		if t.title != "" {
			where = " in " + t.title
		}
		meant := hint(k, t.asked)
		if t.title != "" && slices.Contains(topKeys, k) {
			meant = "; it stands at the top of the file, above the first [section]"
		}
		d.fault(t.nodes[k].pos, "unknown key %q%s%s", k, where, meant)
	}
}

// topKeys are those of the whole study.
var topKeys = []string{"title", "as_of", "last_day", "tag_form", "missing", "animal", "occasion"}

// hint ends a message about an unknown word: the one that was likely meant,
// or else all there are.
func hint(word string, known []string) string {
	if p := history.Propose(word, known); p != "" || len(known) == 0 {
		return p
	}
	return "; there are: " + strings.Join(known, ", ")
}

// plainName refuses names that could not be told apart in headers and labels.
func (d *decoder) plainName(pos Pos, what, name string) {
	if strings.ContainsAny(name, "/\n\r\t\x00") {
		d.fault(pos, "%s %q cannot hold \"/\" (it parts site and row in headers), tabs or line ends", what, name)
	}
}
