package speech

import (
	"reflect"
	"slices"
	"strings"
)

// Document is a document whose texts for people are as say has them; as it is where
// say is nil. They are strings, and lists of them, in fields with the schema tag
// "words"; all else is for programs. What say changes is changed in a copy.
func Document(doc any, say func(string) string) any {
	if say == nil {
		return doc
	}
	return spoken(reflect.ValueOf(doc), false, say).Interface()
}

// spoken is v, of a field for people or not, in the words of say.
func spoken(v reflect.Value, words bool, say func(string) string) reflect.Value {
	switch v.Kind() {
	case reflect.String:
		if words {
			out := reflect.New(v.Type()).Elem()
			out.SetString(say(v.String()))
			return out
		}
	case reflect.Pointer:
		if !v.IsNil() {
			out := reflect.New(v.Type().Elem())
			out.Elem().Set(spoken(v.Elem(), words, say))
			return out
		}
	case reflect.Slice:
		if !v.IsNil() && holdsText(v.Type().Elem().Kind()) {
			out := reflect.MakeSlice(v.Type(), v.Len(), v.Len())
			for i := range v.Len() {
				out.Index(i).Set(spoken(v.Index(i), words, say))
			}
			return out
		}
	case reflect.Struct:
		out := reflect.New(v.Type()).Elem()
		out.Set(v)
		for i := range v.NumField() {
			f := v.Type().Field(i)
			if f.IsExported() && holdsText(f.Type.Kind()) {
				out.Field(i).Set(spoken(v.Field(i), slices.Contains(strings.Split(f.Tag.Get("schema"), ","), "words"), say))
			}
		}
		return out
	}
	return v
}

// holdsText tells which kinds may be or hold a text.
func holdsText(k reflect.Kind) bool {
	return k == reflect.String || k == reflect.Pointer || k == reflect.Slice || k == reflect.Struct
}
