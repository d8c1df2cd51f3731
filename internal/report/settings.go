package report

import (
	"fmt"
	"math"
	"reflect"
	"strings"
	"unicode"
)

// setting is one setting that the run used.
type setting struct {
	section, name string
	value         any // number, bool, string, nil or a list of these
}

// settingsOf lists every setting, section by section, in the order of its
// type's fields, so that a setting added to a package shows in every report.
func settingsOf(settings any) []setting {
	var out []setting
	v := reflect.ValueOf(settings)
	for i := range v.NumField() {
		section := snake(v.Type().Field(i).Name)
		field := v.Field(i)
		if field.Kind() == reflect.Pointer {
			if field.IsNil() {
				out = append(out, setting{section, "from", "headers"})
				continue
			}
			field = field.Elem()
		}
		if field.Kind() == reflect.Struct {
			out = appendFields(out, section, "", field)
			continue
		}
		if value, ok := plainValue(field); ok {
			out = append(out, setting{"general", section, value})
		}
	}
	return out
}

func appendFields(out []setting, section, prefix string, v reflect.Value) []setting {
	for i := range v.NumField() {
		f := v.Type().Field(i)
		if !f.IsExported() {
			continue
		}
		name := prefix + snake(f.Name)
		if v.Field(i).Kind() == reflect.Struct {
			out = appendFields(out, section, name+".", v.Field(i))
			continue
		}
		if value, ok := plainValue(v.Field(i)); ok {
			out = append(out, setting{section, name, value})
		}
	}
	return out
}

// plainValue is a setting as JSON writes it; functions and pixel lists are not
// settings.
func plainValue(v reflect.Value) (any, bool) {
	switch v.Kind() {
	case reflect.Float64, reflect.Float32:
		x := v.Float()
		switch {
		case math.IsNaN(x):
			return nil, true
		case math.IsInf(x, 0):
			return "unlimited", true
		}
		return x, true
	case reflect.Int, reflect.Int64, reflect.Int32:
		return v.Int(), true
	case reflect.Bool:
		return v.Bool(), true
	case reflect.String:
		return v.String(), true
	case reflect.Slice:
		if v.Type().Elem().Kind() != reflect.String {
			return nil, false
		}
		items := make([]string, v.Len())
		for i := range items {
			items[i] = v.Index(i).String()
		}
		return items, true
	case reflect.Map:
		if v.Len() == 0 {
			return nil, false
		}
		return fmt.Sprint(v.Interface()), true
	}
	return nil, false
}

// snake turns a Go name into the lower-case name of the settings file.
func snake(name string) string {
	var b strings.Builder
	runes := []rune(name)
	for i, r := range runes {
		if unicode.IsUpper(r) {
			next := i+1 < len(runes) && unicode.IsLower(runes[i+1])
			if i > 0 && (unicode.IsLower(runes[i-1]) || unicode.IsDigit(runes[i-1]) || next) {
				b.WriteByte('_')
			}
			r = unicode.ToLower(r)
		}
		b.WriteRune(r)
	}
	return b.String()
}
