package cache

import (
	"cmp"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"reflect"
	"slices"
	"time"
)

// Add takes in values of any type, whole: every field of a structure, hidden
// ones too, every element of a list, what a pointer points at. So a field that
// is added to a structure of options counts without anybody having to think of
// it. Functions and channels are no values and do not count; of an interface
// the value inside does, of an error its text.
func (m *KeyMaker) Add(parts ...any) *KeyMaker {
	for _, p := range parts {
		m.add(reflect.ValueOf(p))
	}
	return m
}

func (m *KeyMaker) add(v reflect.Value) {
	if !v.IsValid() {
		m.text("nil")
		return
	}
	m.text(v.Type().String())
	if v.CanInterface() {
		switch x := v.Interface().(type) {
		case time.Time:
			m.number(uint64(x.Unix()))
			m.number(uint64(x.Nanosecond()))
			return
		case error:
			m.text(x.Error())
			return
		}
	}
	switch v.Kind() {
	case reflect.Bool, reflect.String:
		m.text(fmt.Sprint(v))
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		m.number(uint64(v.Int()))
	case reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64, reflect.Uintptr:
		m.number(v.Uint())
	case reflect.Float32, reflect.Float64:
		m.number(math.Float64bits(v.Float()))
	case reflect.Complex64, reflect.Complex128:
		m.number(math.Float64bits(real(v.Complex())))
		m.number(math.Float64bits(imag(v.Complex())))
	case reflect.Func, reflect.Chan, reflect.UnsafePointer:
	default:
		m.addParts(v)
	}
}

// addParts takes in what is made of other values.
func (m *KeyMaker) addParts(v reflect.Value) {
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			m.text(v.Type().Field(i).Name)
			m.add(v.Field(i))
		}
	case reflect.Slice, reflect.Array:
		m.length(v.Len())
		for i := range v.Len() {
			m.add(v.Index(i))
		}
	case reflect.Map:
		m.length(v.Len())
		for _, k := range sortedKeys(v) {
			m.add(k)
			m.add(v.MapIndex(k))
		}
	case reflect.Pointer, reflect.Interface:
		if v.IsNil() {
			m.text("nil")
			return
		}
		m.add(v.Elem())
	}
}

func sortedKeys(v reflect.Value) []reflect.Value {
	keys := v.MapKeys()
	slices.SortFunc(keys, func(a, b reflect.Value) int { return cmp.Compare(fmt.Sprint(a), fmt.Sprint(b)) })
	return keys
}

func (m *KeyMaker) text(s string) {
	m.length(len(s))
	io.WriteString(m.h, s)
}

func (m *KeyMaker) length(n int) { m.number(uint64(n)) }

func (m *KeyMaker) number(n uint64) {
	m.buf = binary.LittleEndian.AppendUint64(m.buf[:0], n)
	m.h.Write(m.buf)
}
