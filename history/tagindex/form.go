package tagindex

import (
	"bytes"
	"strings"

	"example.org/unseen/history/tagcode"
)

// Form is how the tags of a study are written, and turns them into keys of the
// index.
type Form struct {
	Text bool // plain text instead of ISO 11784
}

// Key gives the key of a tag: the code itself, or the hash of a text, of at most
// keyBits bits and never 0; ok is false where the tag cannot be read. reversed:
// the codes of the file are bit-reversed.
func (f Form) Key(b []byte, reversed bool) (key uint64, ok bool) {
	if f.Text {
		b = bytes.TrimSpace(b)
		return hashText(b), len(b) > 0
	}
	if c, ok := tagcode.Decode(b); ok {
		return uint64(c), true
	}
	c, err := ParseCode(string(b), reversed)
	return uint64(c), err == nil
}

// ParseCode reads a code of ISO 11784, or says why it is none.
func ParseCode(s string, reversed bool) (tagcode.Code, error) {
	if reversed {
		return tagcode.Reversed(s)
	}
	return tagcode.Parse(s)
}

// KeyOf is the key of a tag, or why there is none.
func (f Form) KeyOf(s string) (uint64, error) {
	if f.Text {
		return hashText(bytes.TrimSpace([]byte(s))), nil
	}
	c, err := tagcode.Parse(s)
	return uint64(c), err
}

// Canonical is the form a tag is shown in, with its key.
func (f Form) Canonical(s string) (shown string, key uint64, err error) {
	if key, err = f.KeyOf(s); err != nil {
		return "", 0, err
	}
	return f.Shown(key, s), key, nil
}

// Shown is the form a tag is shown in that has a key and was written so.
func (f Form) Shown(key uint64, written string) string {
	if f.Text {
		return strings.TrimSpace(written)
	}
	return tagcode.Code(key).String()
}

// hashText is FNV-1a with a last mixing, of keyBits bits and never 0.
func hashText(b []byte) uint64 {
	h := uint64(14695981039346656037)
	for _, c := range b {
		h = (h ^ uint64(c)) * 1099511628211
	}
	h ^= h >> 32
	return max(1, h*scatter>>(64-keyBits))
}
