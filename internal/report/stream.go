package report

import (
	"bufio"
	"encoding/json"
	"io"
	"iter"
	"reflect"
)

// entries makes the entries of a list one by one, as each is written: of thousands of
// subs all at once would take far more memory than what is measured of them.
func entries[From, To any](of []From, make func(From) To) iter.Seq[To] {
	return func(yield func(To) bool) {
		for _, v := range of {
			if !yield(make(v)) {
				return
			}
		}
	}
}

const jsonIndent = " "

// writeObject writes a struct as json.Encoder does with SetIndent("", jsonIndent), field
// by field and lists entry by entry. Fields have names and are never left out.
func writeObject(w io.Writer, object any) error {
	to := jsonWriter{to: bufio.NewWriter(w)}
	v := reflect.ValueOf(object)
	for i := range v.NumField() {
		to.text([]string{"{", ","}[min(i, 1)] + "\n" + jsonIndent)
		to.value(v.Type().Field(i).Tag.Get("json"), "")
		to.text(": ")
		if field := v.Field(i); field.Kind() == reflect.Func || field.Kind() == reflect.Slice && !field.IsNil() {
			to.list(field)
		} else {
			to.value(field.Interface(), jsonIndent)
		}
	}
	to.text("\n}\n")
	if to.err != nil {
		return to.err
	}
	return to.to.Flush()
}

type jsonWriter struct {
	to  *bufio.Writer
	err error
}

func (w *jsonWriter) text(s string) { w.to.WriteString(s) } // the buffer keeps its error

// value is one with all that is in it, its lines after the first behind a prefix.
func (w *jsonWriter) value(v any, prefix string) {
	b, err := json.MarshalIndent(v, prefix, jsonIndent)
	if w.err == nil {
		w.err = err
	}
	w.to.Write(b)
}

// list writes a slice, or an iter.Seq, that is a field of the object.
func (w *jsonWriter) list(list reflect.Value) {
	const prefix = jsonIndent + jsonIndent
	n := 0
	write := func(v reflect.Value) {
		w.text([]string{"[", ","}[min(n, 1)] + "\n" + prefix)
		w.value(v.Interface(), prefix)
		n++
	}
	if list.Kind() == reflect.Func {
		for v := range list.Seq() {
			write(v)
		}
	} else {
		for i := range list.Len() {
			write(list.Index(i))
		}
	}
	if n == 0 {
		w.text("[]")
		return
	}
	w.text("\n" + jsonIndent + "]")
}
