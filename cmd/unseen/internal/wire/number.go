// Package wire is the form in which results leave for other programs: JSON in
// full precision, versioned, null for what does not exist.
package wire

import (
	"encoding/json"
	"io"
	"math"
	"strings"

	"example.org/unseen/cmd/unseen/internal/harmless"
	"example.org/unseen/cmd/unseen/internal/speech"
)

// Number is a float64 that is null in JSON when it is not a finite number.
type Number float64

// MarshalJSON writes the shortest decimal that reads back as the same number.
func (n Number) MarshalJSON() ([]byte, error) {
	if x := float64(n); math.IsNaN(x) || math.IsInf(x, 0) {
		return []byte("null"), nil
	}
	return json.Marshal(float64(n))
}

// UnmarshalJSON reads what MarshalJSON wrote: null is NaN.
func (n *Number) UnmarshalJSON(b []byte) error {
	if string(b) == "null" {
		*n = Number(math.NaN())
		return nil
	}
	return json.Unmarshal(b, (*float64)(n))
}

// Write writes a document, indented, its texts in the words of its study.
func Write(w io.Writer, doc any) error {
	if d, ok := doc.(interface{ speech() func(string) string }); ok {
		doc = speech.Document(doc, d.speech())
	}
	var b strings.Builder
	e := json.NewEncoder(&b)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	if err := e.Encode(doc); err != nil {
		return err
	}
	_, err := io.WriteString(w, harmless.Escape(b.String()))
	return err
}

// list is never null in JSON.
func list[T any](s []T) []T {
	if s == nil {
		return []T{}
	}
	return s
}

// each is a list, never null in JSON, of what f makes of every entry.
func each[A, B any](in []A, f func(A) B) []B {
	out := make([]B, len(in))
	for i, x := range in {
		out[i] = f(x)
	}
	return out
}

func numbers(in []float64) []Number { return each(in, func(x float64) Number { return Number(x) }) }

// because is an error's text, "" of none.
func because(err error) string {
	if err == nil {
		return ""
	}
	return err.Error()
}
