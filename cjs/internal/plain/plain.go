// Package plain writes results as JSON: every exported field under one name,
// always there, and null where a value does not exist.
package plain

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"time"
	"unicode"
)

// noTime stands for a time in Unix milliseconds that is not known.
const noTime = math.MinInt64

var (
	marshaler = reflect.TypeFor[json.Marshaler]()
	failure   = reflect.TypeFor[error]()
	instant   = reflect.TypeFor[time.Time]()
)

// JSON is v as JSON. A number that is not finite, a time that is not known and
// a pointer to nothing are null; an error is its text; no elements are []; a
// function is left out, being no data. Fields go by the name of their json
// tag, without one by their own in lower case with underscores; options of the
// tag are not heeded, for a key is always there. It is what MarshalJSON of a
// result calls, so v's own MarshalJSON is passed over, not those of its parts.
func JSON(v any) ([]byte, error) {
	var b bytes.Buffer
	x := reflect.ValueOf(v)
	for x.Kind() == reflect.Pointer && !x.IsNil() {
		x = x.Elem()
	}
	err := write(&b, x, true)
	return b.Bytes(), err
}

// write appends v; own passes over the MarshalJSON of v itself.
func write(b *bytes.Buffer, v reflect.Value, own bool) error {
	if !v.IsValid() {
		b.WriteString("null")
		return nil
	}
	t := v.Type()
	switch {
	case v.Kind() == reflect.Interface && t != failure:
		return write(b, v.Elem(), false)
	case nothing(v):
		b.WriteString("null")
		return nil
	case t.Implements(failure):
		return standard(b, v.Interface().(error).Error())
	case t == instant:
		return standard(b, v.Interface())
	case !own && t.Implements(marshaler):
		return standard(b, v.Interface())
	}
	switch v.Kind() {
	case reflect.Pointer:
		return write(b, v.Elem(), own)
	case reflect.Struct:
		b.WriteByte('{')
		first := true
		if err := fields(b, v, &first); err != nil {
			return err
		}
		b.WriteByte('}')
		return nil
	case reflect.Slice, reflect.Array:
		return list(b, v)
	case reflect.Map:
		return object(b, v)
	case reflect.Func, reflect.Chan, reflect.Complex64, reflect.Complex128:
		return fmt.Errorf("%s is no data", t)
	}
	return standard(b, v.Interface())
}

// nothing tells what cannot be had.
func nothing(v reflect.Value) bool {
	switch v.Kind() {
	case reflect.Float64, reflect.Float32:
		return math.IsNaN(v.Float()) || math.IsInf(v.Float(), 0)
	case reflect.Int64:
		return v.Int() == noTime
	case reflect.Pointer, reflect.Interface:
		return v.IsNil()
	}
	return v.Type() == instant && v.Interface().(time.Time).IsZero()
}

func standard(b *bytes.Buffer, v any) error {
	out, err := json.Marshal(v)
	b.Write(out)
	return err
}

func list(b *bytes.Buffer, v reflect.Value) error {
	b.WriteByte('[')
	for i := range v.Len() {
		if i > 0 {
			b.WriteByte(',')
		}
		if err := write(b, v.Index(i), false); err != nil {
			return err
		}
	}
	b.WriteByte(']')
	return nil
}

// object writes a map, its keys in order.
func object(b *bytes.Buffer, v reflect.Value) error {
	keys := v.MapKeys()
	slices.SortFunc(keys, func(x, y reflect.Value) int { return strings.Compare(fmt.Sprint(x), fmt.Sprint(y)) })
	b.WriteByte('{')
	for i, k := range keys {
		if i > 0 {
			b.WriteByte(',')
		}
		if err := standard(b, fmt.Sprint(k)); err != nil {
			return err
		}
		b.WriteByte(':')
		if err := write(b, v.MapIndex(k), false); err != nil {
			return err
		}
	}
	b.WriteByte('}')
	return nil
}

// fields writes those of a struct, and of the structs it embeds, as its own.
func fields(b *bytes.Buffer, v reflect.Value, first *bool) error {
	for i := range v.NumField() {
		f := v.Type().Field(i)
		tag, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		switch {
		case !f.IsExported() || f.Type.Kind() == reflect.Func || tag == "-":
			continue
		case f.Anonymous && tag == "" && f.Type.Kind() == reflect.Struct:
			if err := fields(b, v.Field(i), first); err != nil {
				return err
			}
			continue
		}
		if !*first {
			b.WriteByte(',')
		}
		*first = false
		if tag == "" {
			tag = Key(f.Name)
		}
		fmt.Fprintf(b, "%q:", tag)
		if err := write(b, v.Field(i), false); err != nil {
			return fmt.Errorf("%s: %w", f.Name, err)
		}
	}
	return nil
}

// Key is a field's name as a key: KmPerDay is km_per_day, WhyNoLaw why_no_law,
// PerSD per_sd.
func Key(name string) string {
	var out []rune
	rs := []rune(name)
	for i, r := range rs {
		if unicode.IsUpper(r) && i > 0 && (unicode.IsLower(rs[i-1]) || unicode.IsUpper(rs[i-1]) && i+1 < len(rs) && unicode.IsLower(rs[i+1])) {
			out = append(out, '_')
		}
		out = append(out, unicode.ToLower(r))
	}
	return string(out)
}
