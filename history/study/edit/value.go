package edit

import (
	"fmt"
	"math"
	"reflect"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"example.org/unseen/history/study"
)

// Raw is a value as the study file writes it, such as a date without a zone:
// Raw("2025-04-14T09:00:00"). It is one value on one line, without a comment.
type Raw string

// Table is a table to be written, its keys in their order.
type Table []Key

// Key is a key of a [Table] with its value.
type Key struct {
	Name  string // of the key
	Value any    // a TOML value
}

// render writes a value on one line.
func render(value any) (string, error) {
	switch v := value.(type) {
	case string:
		if !utf8.ValidString(v) {
			return "", fmt.Errorf("the text %q is not UTF-8", v)
		}
		return study.Quote(v), nil
	case bool:
		return strconv.FormatBool(v), nil
	case int:
		return strconv.Itoa(v), nil
	case float64:
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return "", fmt.Errorf("%v is no finite number", v)
		}
		return study.FormatNumber(v), nil
	case time.Time:
		return v.Format(time.RFC3339Nano), nil
	case Raw:
		return string(v), v.check()
	case Table:
		return renderTable(v)
	}
	list, ok := entries(value)
	if !ok {
		return "", fmt.Errorf("a %T is no value of a study file", value)
	}
	parts := make([]string, len(list))
	for i, x := range list {
		s, err := render(x)
		if err != nil {
			return "", err
		}
		parts[i] = s
	}
	return "[" + strings.Join(parts, ", ") + "]", nil
}

func renderTable(t Table) (string, error) {
	parts := make([]string, len(t))
	seen := map[string]bool{}
	for i, k := range t {
		s, err := render(k.Value)
		if err != nil {
			return "", fmt.Errorf("%s: %w", k.Name, err)
		}
		if seen[k.Name] {
			return "", fmt.Errorf("the key %q stands twice", k.Name)
		}
		if !utf8.ValidString(k.Name) {
			return "", fmt.Errorf("the key %q is not UTF-8", k.Name)
		}
		seen[k.Name] = true
		parts[i] = key(k.Name) + " = " + s
	}
	if len(parts) == 0 {
		return "{}", nil
	}
	return "{ " + strings.Join(parts, ", ") + " }", nil
}

// entries are those of a list.
func entries(value any) (out []any, ok bool) {
	switch v := value.(type) {
	case []any:
		return v, true
	case []string:
		return boxed(v), true
	case []Table:
		return boxed(v), true
	}
	return nil, false
}

func boxed[T any](list []T) []any {
	out := make([]any, len(list))
	for i, x := range list {
		out[i] = x
	}
	return out
}

// key writes a key, in quotes where it must be.
func key(s string) string {
	for _, r := range s {
		if !('a' <= r && r <= 'z' || 'A' <= r && r <= 'Z' || '0' <= r && r <= '9' || r == '_' || r == '-') {
			return study.Quote(s)
		}
	}
	if s == "" {
		return `""`
	}
	return s
}

// check refuses what is not one value on one line.
func (r Raw) check() error {
	line := "x = " + string(r)
	if _, err := decode(string(r)); err != nil || strings.ContainsAny(line, "\r\n") {
		return fmt.Errorf("%q is not one value as a study file writes it", string(r))
	}
	p := unstable.Parser{}
	p.Reset([]byte(line))
	if !p.NextExpression() || p.Expression().Raw.Length != uint32(len(line)) {
		return fmt.Errorf("%q holds more than one value", string(r))
	}
	return nil
}

// decode reads a value as TOML.
func decode(s string) (any, error) {
	var v struct{ X any }
	err := toml.Unmarshal([]byte("X = "+s), &v)
	return v.X, err
}

// same tells whether two values as TOML writes them are one.
func same(a, b string) bool {
	x, err1 := decode(a)
	y, err2 := decode(b)
	if err1 != nil || err2 != nil {
		return false
	}
	number := func(v any) (float64, bool) {
		if n, ok := v.(int64); ok && n == int64(float64(n)) {
			return float64(n), true
		}
		f, ok := v.(float64)
		return f, ok
	}
	if p, ok := number(x); ok {
		if q, ok := number(y); ok {
			return p == q && math.Signbit(p) == math.Signbit(q)
		}
	}
	return reflect.DeepEqual(x, y)
}
