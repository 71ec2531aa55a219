package desk

import (
	"net/url"
	"strconv"
	"strings"
	"sync"
)

// note is what is said after something was done.
type note struct {
	Text  string
	Fault bool
	// Form is what was sent and refused: what was typed is not lost.
	Form url.Values
}

// notes are the last things said, by the number that the address names.
type notes struct {
	mu   sync.Mutex
	next int
	said map[string]note
}

func (n *notes) of(key string) *note {
	n.mu.Lock()
	defer n.mu.Unlock()
	if x, ok := n.said[key]; ok {
		return &x
	}
	return nil
}

// typed gives what was written into the fields of a form that was refused, and
// was its values where it was not. table is that of a form about one.
func (l *looking) typed(do, table string) func(key, value string) string {
	n := l.notes.of(l.at.Get("note"))
	if n == nil || n.Form.Get("do") != do || n.Form.Get("table") != table {
		return func(_, value string) string { return value }
	}
	return func(key, value string) string {
		if n.Form.Has(key) {
			return n.Form.Get(key)
		}
		return value
	}
}

// noted is an address with something to be said there.
func (d *Desk) noted(address string, x note) string {
	n := &d.notes
	n.mu.Lock()
	defer n.mu.Unlock()
	if n.said == nil || len(n.said) > 100 {
		n.said = map[string]note{}
	}
	n.next++
	key := strconv.Itoa(n.next)
	n.said[key] = x
	path, query, _ := strings.Cut(address, "?")
	q, err := url.ParseQuery(query)
	if err != nil || path == "" {
		path, q = "/", url.Values{}
	}
	q.Set("note", key)
	return path + "?" + q.Encode()
}
