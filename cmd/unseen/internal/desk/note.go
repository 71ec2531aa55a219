package desk

import (
	"net/url"
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
