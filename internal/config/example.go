package config

import (
	"fmt"
	"io"
	"reflect"
	"strconv"
	"strings"
)

// Example writes a settings file that holds every key of s at its value, each
// under a comment that says what it means. Tables that s leaves out and arrays
// of tables stand in comments: they have no defaults.
func Example(w io.Writer, s any) error {
	v := reflect.Indirect(reflect.ValueOf(s))
	var b strings.Builder
	section := ""
	for _, e := range List(s) {
		head, name := cut(e.Key)
		if head != section {
			fmt.Fprintf(&b, "\n[%s]\n", head)
			section = head
		}
		writeKey(&b, e, name, "")
	}
	for _, t := range optional("", v.Type(), v) {
		writeTable(&b, "["+t.name+"]", t)
	}
	for _, t := range tables("", v.Type()) {
		writeTable(&b, "[["+t.name+"]]", t)
	}
	_, err := io.WriteString(w, strings.TrimLeft(b.String(), "\n"))
	return err
}

// writeTable writes a table as a comment, since it has no defaults.
func writeTable(b *strings.Builder, head string, t arrayTable) {
	b.WriteString("\n")
	for _, line := range wrapped(t.help) {
		fmt.Fprintf(b, "# %s\n", line)
	}
	fmt.Fprintf(b, "# %s\n", head)
	for _, e := range t.keys {
		_, name := cut(e.Key)
		writeKey(b, e, name, "# ")
	}
}

func optional(prefix string, t reflect.Type, v reflect.Value) []arrayTable {
	var all []arrayTable
	for i := range t.NumField() {
		f := t.Field(i)
		name := f.Tag.Get("toml")
		if name == "" || name == "-" || f.Type.Kind() != reflect.Pointer || f.Type.Elem().Kind() != reflect.Struct || !v.Field(i).IsNil() {
			continue
		}
		all = append(all, arrayTable{prefix + name, f.Tag.Get("help"), list(prefix+name+".", filled(f.Type.Elem()))})
	}
	return all
}

// writeKey writes what a key means, its range, and the line that sets it.
func writeKey(b *strings.Builder, e Entry, name, indent string) {
	if e.Help != "" {
		help := e.Help
		if e.Unit != "" {
			help += ", " + e.Unit
		}
		for _, line := range wrapped(help + " (" + e.choices() + ")") {
			fmt.Fprintf(b, "%s# %s\n", indent, line)
		}
	}
	fmt.Fprintf(b, "%s%s = %s\n", indent, name, literal(e.Value))
}

func literal(v reflect.Value) string {
	switch v.Kind() {
	case reflect.Float64:
		text := strconv.FormatFloat(v.Float(), 'f', -1, 64)
		if !strings.Contains(text, ".") {
			text += ".0"
		}
		return text
	case reflect.String:
		return strconv.Quote(v.String())
	}
	return fmt.Sprint(v.Interface())
}

// cut parts a dotted key into its table and its name.
func cut(key string) (table, name string) {
	if at := strings.LastIndex(key, "."); at >= 0 {
		return key[:at], key[at+1:]
	}
	return "", key
}

// wrapped breaks a comment into lines that a terminal shows whole.
func wrapped(text string) []string {
	const width = 74 // and two signs of a comment
	var lines []string
	line := ""
	for _, word := range strings.Fields(text) {
		if line != "" && len(line)+1+len(word) > width {
			lines = append(lines, line)
			line = ""
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}
