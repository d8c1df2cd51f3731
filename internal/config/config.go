// Package config reads what a user can set from the types that hold it: a
// struct's fields are keys, named by their `toml` tags, and their tags say in
// one place what a key means (`help`), which unit it has (`unit`) and which
// values make sense (`min`, `max`: allowed themselves; `above`, `below`: not).
// The settings file, its commented example, the checks and the list in every
// report are made from these, so that they cannot disagree.
//
// The file is TOML 1.0. A nested struct is a table, a pointer to one a table
// that may be left out whole, a slice of structs an array of tables.
package config

import (
	"errors"
	"fmt"
	"math"
	"reflect"
	"strconv"
	"strings"
)

// Entry is one key that a settings file can hold.
type Entry struct {
	Key   string // dotted, as in the file: "stars.threshold"
	Help  string // what it means, without a full stop
	Unit  string // empty for a pure number, a word or a switch
	Value reflect.Value
	tag   reflect.StructTag
}

// List gives the keys of a struct, or of a pointer to one, in the order of its
// fields; those of arrays of tables and of tables that are left out are not
// among them. Fields without a toml tag, or with "-", are no keys.
func List(s any) []Entry {
	return list("", reflect.Indirect(reflect.ValueOf(s)))
}

func list(prefix string, v reflect.Value) []Entry {
	var all []Entry
	for i := range v.NumField() {
		f, field := v.Type().Field(i), v.Field(i)
		name := f.Tag.Get("toml")
		if name == "" || name == "-" {
			continue
		}
		if field.Kind() == reflect.Pointer {
			if field.IsNil() {
				continue
			}
			field = field.Elem()
		}
		switch field.Kind() {
		case reflect.Struct:
			all = append(all, list(prefix+name+".", field)...)
		case reflect.Slice: // each element has keys of its own, see Tables
		default:
			all = append(all, Entry{Key: prefix + name, Help: f.Tag.Get("help"), Unit: f.Tag.Get("unit"), Value: field, tag: f.Tag})
		}
	}
	return all
}

// Error is a setting that makes no sense.
type Error struct {
	Key     string // dotted
	Problem string // what is wrong with it, and which values there are
}

func (e *Error) Error() string { return e.Key + " " + e.Problem }

// In names the key of an *Error by its place in a larger table.
func In(table string, err error) error {
	if bad, ok := errors.AsType[*Error](err); ok {
		return &Error{table + "." + bad.Key, bad.Problem}
	}
	return err
}

// Check tells the first key whose value is outside its range.
func Check(s any) error {
	for _, e := range List(s) {
		x, ok := e.number()
		if !ok {
			continue
		}
		if !e.allows(x) {
			return &Error{e.Key, fmt.Sprintf("must be %s, not %s", e.choices(), strconv.FormatFloat(x, 'g', -1, 64))}
		}
	}
	return nil
}

func (e Entry) number() (float64, bool) {
	switch e.Value.Kind() {
	case reflect.Float64:
		return e.Value.Float(), true
	case reflect.Int:
		return float64(e.Value.Int()), true
	}
	return 0, false
}

func (e Entry) allows(x float64) bool {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return false
	}
	for _, bound := range []struct {
		name string
		ok   func(limit float64) bool
	}{
		{"min", func(limit float64) bool { return x >= limit }},
		{"max", func(limit float64) bool { return x <= limit }},
		{"above", func(limit float64) bool { return x > limit }},
		{"below", func(limit float64) bool { return x < limit }},
	} {
		text, has := e.tag.Lookup(bound.name)
		if !has {
			continue
		}
		if limit, err := strconv.ParseFloat(text, 64); err != nil || !bound.ok(limit) {
			return false
		}
	}
	return true
}

// choices says which values there are: "a whole number from 1 to 256".
func (e Entry) choices() string {
	kinds := map[reflect.Kind]string{
		reflect.Int: "a whole number", reflect.Float64: "a number", reflect.Bool: "true or false", reflect.String: "a text in quotes",
	}
	words := []string{kinds[e.Value.Kind()]}
	low, hasLow := e.tag.Lookup("min")
	high, hasHigh := e.tag.Lookup("max")
	switch {
	case hasLow && hasHigh:
		words = append(words, "from "+low+" to "+high)
	case hasLow:
		words = append(words, "of "+low+" or more")
	case hasHigh:
		words = append(words, "up to "+high)
	}
	var open []string
	for _, name := range []string{"above", "below"} {
		if limit, ok := e.tag.Lookup(name); ok {
			open = append(open, name+" "+limit)
		}
	}
	if len(words) > 1 && len(open) > 0 {
		words = append(words, "and")
	}
	return strings.TrimSpace(strings.Join(append(words, strings.Join(open, " and ")), " "))
}
