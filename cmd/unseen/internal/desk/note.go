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
