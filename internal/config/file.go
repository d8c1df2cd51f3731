package config

import (
	"bytes"
	"errors"
	"fmt"
	"reflect"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// Decode reads a settings file over what s points to. An error names line and
// key: a key that is not known (so that a typing mistake never passes as a
// setting), a value of the wrong kind or out of its range, half a pair. Checks
// beyond single keys are made by check, whose *Error gets its line here too;
// nil leaves them out.
func Decode(text []byte, s any, check func() error) error {
	d := toml.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(s); err != nil {
		return readable(err, s)
	}
	where := lines(text)
	if err := whole(where, s); err != nil {
		return err
	}
	err := Check(s)
	if err == nil && check != nil {
		err = check()
	}
	if bad, ok := errors.AsType[*Error](err); ok {
		if line, ok := where[bad.Key]; ok {
			return fmt.Errorf("line %d: %w", line, err)
		}
	}
	return err
}

// readable says what the TOML reader found in the user's terms: its own words
// name the program's types.
func readable(err error, s any) error {
	var unknown *toml.StrictMissingError
	var bad *toml.DecodeError
	switch {
	case errors.As(err, &unknown) && len(unknown.Errors) > 0:
		row, col := unknown.Errors[0].Position()
		return fmt.Errorf("line %d, column %d: unknown key %q", row, col, strings.Join(unknown.Errors[0].Key(), "."))
	case errors.As(err, &bad):
		row, col := bad.Position()
		key := strings.Join(bad.Key(), ".")
		if key == "" {
			return fmt.Errorf("line %d, column %d: this is no TOML: %s", row, col, strings.TrimPrefix(bad.Error(), "toml: "))
		}
		return fmt.Errorf("line %d: %s must be %s", row, key, wanted(key, s))
	}
	return err
}

// wanted is the kind of value that a key takes, also one of an array of tables.
func wanted(key string, s any) string {
	for _, e := range append(List(s), elements(s)...) {
		if e.Key == key {
			return e.choices()
		}
	}
	return "of another kind"
}

// lines finds on which line of a file each key stands, by its dotted name; of
// an array of tables the last.
func lines(text []byte) map[string]int {
	where := map[string]int{}
	var p unstable.Parser
	p.Reset(text)
	prefix := ""
	for p.NextExpression() {
		node := p.Expression()
		var parts []string
		line := 0
		for it := node.Key(); it.Next(); {
			part := it.Node()
			parts = append(parts, string(part.Data))
			line = p.Shape(part.Raw).Start.Line
		}
		name := strings.Join(parts, ".")
		if node.Kind == unstable.Table || node.Kind == unstable.ArrayTable {
			prefix = name + "."
			where[name] = line
			continue
		}
		where[prefix+name] = line
	}
	return where
}

// whole tells a table of which one key is of no use without another that is
// missing: fields tagged `with` name the other.
func whole(where map[string]int, s any) error {
	for _, e := range List(s) {
		other, ok := e.tag.Lookup("with")
		if !ok {
			continue
		}
		other = e.Key[:strings.LastIndex(e.Key, ".")+1] + other
		line, here := where[e.Key]
		if _, there := where[other]; here && !there {
			return fmt.Errorf("line %d: %s is of no use without %s", line, e.Key, other)
		}
	}
	return nil
}

// elements are the keys of one element of each array of tables, set to nothing.
func elements(s any) []Entry {
	var all []Entry
	for _, t := range tables("", reflect.Indirect(reflect.ValueOf(s)).Type()) {
		all = append(all, t.keys...)
	}
	return all
}

type arrayTable struct {
	name, help string
	keys       []Entry
}

func tables(prefix string, t reflect.Type) []arrayTable {
	var all []arrayTable
	for i := range t.NumField() {
		f := t.Field(i)
		name := f.Tag.Get("toml")
		if name == "" || name == "-" {
			continue
		}
		switch kind := f.Type.Kind(); {
		case kind == reflect.Struct:
			all = append(all, tables(prefix+name+".", f.Type)...)
		case kind == reflect.Slice && f.Type.Elem().Kind() == reflect.Struct:
			all = append(all, arrayTable{prefix + name, f.Tag.Get("help"), list(prefix+name+".", filled(f.Type.Elem()))})
		}
	}
	return all
}

// filled is a value of a struct type whose pointers point to zeros, so that
// every key shows.
func filled(t reflect.Type) reflect.Value {
	v := reflect.New(t).Elem()
	for i := range v.NumField() {
		if f := v.Field(i); f.Kind() == reflect.Pointer && f.CanSet() {
			f.Set(reflect.New(f.Type().Elem()))
		}
	}
	return v
}
