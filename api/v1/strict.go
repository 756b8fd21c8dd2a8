package v1

import (
	"encoding/json"
	"reflect"
	"strings"

	"lotbook/api/problem"
)

// maxDepth is how deep a request's JSON may be nested; none needs more than 5.
const maxDepth = 16

// strict checks of a JSON value what encoding/json lets pass: members given
// twice, of which the last would count; null, which would count as left out;
// and names in another case. t is the type that the value is decoded into, nil
// where that doesn't matter.
func strict(dec *json.Decoder, t reflect.Type, path string, depth int) error {
	if depth > maxDepth {
		return problem.Bad("malformed", "", "Look at the API's description for the form of the request.", "The JSON is nested too deep.")
	}
	tok, err := dec.Token()
	if err != nil {
		return err
	}
	for t != nil && t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	switch tok {
	case nil:
		return problem.Bad("wrong_type", path, "Leave it out.", "%s is null.", member(path))
	case json.Delim('['):
		for dec.More() {
			if err := strict(dec, elem(t, reflect.Slice), path, depth+1); err != nil {
				return err
			}
		}
		_, err = dec.Token()
	case json.Delim('{'):
		err = strictObject(dec, t, path, depth)
	}
	return err
}

func strictObject(dec *json.Decoder, t reflect.Type, path string, depth int) error {
	seen := map[string]bool{}
	for dec.More() {
		tok, err := dec.Token()
		if err != nil {
			return err
		}
		name, _ := tok.(string)
		full := name
		if path != "" {
			full = path + "." + name
		}
		if seen[name] {
			return problem.Bad("repeated_member", full, "Give it once.", "%s is given more than once.", member(full))
		}
		seen[name] = true
		inner := elem(t, reflect.Map)
		if t != nil && t.Kind() == reflect.Struct {
			f, ok := fieldOf(t, name)
			if !ok {
				return problem.Bad("unknown_member", full, "Leave it out, or compare its spelling with the API's description.", "There is no member %q here.", full)
			}
			inner = f
		}
		if err := strict(dec, inner, full, depth+1); err != nil {
			return err
		}
	}
	_, err := dec.Token()
	return err
}

// elem returns the type of what a slice or a map holds, nil if t is none.
func elem(t reflect.Type, kind reflect.Kind) reflect.Type {
	if t == nil || t.Kind() != kind {
		return nil
	}
	return t.Elem()
}

// fieldOf returns the type of a struct's member of exactly that name, embedded
// structs' members too.
func fieldOf(t reflect.Type, name string) (reflect.Type, bool) {
	for i := range t.NumField() {
		f := t.Field(i)
		if f.Anonymous && f.Type.Kind() == reflect.Struct {
			if in, ok := fieldOf(f.Type, name); ok {
				return in, true
			}
			continue
		}
		if tag, _, _ := strings.Cut(f.Tag.Get("json"), ","); tag == name && f.IsExported() {
			return f.Type, true
		}
	}
	return nil, false
}
