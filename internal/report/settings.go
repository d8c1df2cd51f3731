package report

import (
	"fmt"
	"math"
	"reflect"
	"strings"
	"unicode"
)

type setting struct {
	section, name string
	value         any // number, bool, string, nil or a list of these
}

// key is what people write into the settings file or behind --set.
func (s setting) key() string {
	if s.section == noSection {
		return s.name
	}
	return s.section + "." + s.name
}

// noSection holds what stands above the sections of the settings file.
const noSection = "general"

// settingsOf lists every setting of the settings file under its name there, section by
// section, in the order of its type's fields, so that a setting added to a package shows
// in every report. What a run works out for itself, such as a camera's saturation, is none.
func settingsOf(settings any) []setting {
	var out []setting
	v := reflect.ValueOf(settings)
	for i := range v.NumField() {
		f, field := v.Type().Field(i), v.Field(i)
		section := settingName(f)
		if f.Tag.Get("toml") == "-" {
			continue // what the run was given besides settings
		}
		if field.Kind() == reflect.Pointer {
			if field.IsNil() {
				out = append(out, setting{section, "from", "headers"})
				continue
			}
			field = field.Elem()
		}
		if field.Kind() == reflect.Struct {
			out = appendFields(out, section, field)
		} else if value, ok := plainValue(field); ok {
			out = append(out, setting{noSection, section, value})
		}
	}
	return out
}

func appendFields(out []setting, section string, v reflect.Value) []setting {
	for i := range v.NumField() {
		f := v.Type().Field(i)
		if !f.IsExported() || f.Tag.Get("toml") == "-" {
			continue
		}
		if value, ok := plainValue(v.Field(i)); ok {
			out = append(out, setting{section, settingName(f), value})
		}
	}
	return out
}

func settingName(f reflect.StructField) string {
	if name := f.Tag.Get("toml"); name != "" && name != "-" {
		return name
	}
	return snake(f.Name)
}

// plainValue is a setting as JSON writes it; functions, maps and lists of
// numbers are not settings.
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
		items := make([]string, v.Len())
		for i := range items {
			switch item := v.Index(i); item.Kind() {
			case reflect.String:
				items[i] = item.String()
			case reflect.Struct:
				items[i] = structWords(item)
			default:
				return nil, false
			}
		}
		return items, true
	}
	return nil, false
}

// structWords writes the fields of a struct that are set: "filter = Ha,
// sky_cull = 3".
func structWords(v reflect.Value) string {
	var parts []string
	for i := range v.NumField() {
		field := v.Field(i)
		if field.Kind() == reflect.Pointer && !field.IsNil() {
			field = field.Elem()
		}
		if value, ok := plainValue(field); ok && !field.IsZero() {
			parts = append(parts, settingName(v.Type().Field(i))+" = "+settingWords(value))
		}
	}
	return strings.Join(parts, ", ")
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

// settingWords is a setting's value as people read it.
func settingWords(v any) string {
	switch v := v.(type) {
	case nil:
		return "not set"
	case float64:
		return number(v)
	case []string:
		if len(v) == 0 {
			return "none"
		}
		return strings.Join(v, "; ")
	}
	return fmt.Sprint(v)
}
