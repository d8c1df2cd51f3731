// Package fact holds what was found as data: a code with the numbers that it is told
// in. Packages that measure make facts; package say has one phrase for each code, and
// night.json carries both.
package fact

import (
	"math"
	"slices"
	"strconv"
	"strings"
)

// Code names what was found.
type Code string

// Fact is one thing that was found.
type Fact struct {
	Code   Code
	Values []Value
}

// Value is a number by its name, which ends in its unit; a text where it is none.
type Value struct {
	Name   string
	Number float64 // NaN when not known
	Text   string  // of what is no number: a name, a setting; "" for numbers
	Fact   *Fact   // of what is a fact itself: a reason; nil for all others
}

// Of is a fact.
func Of(code Code, values ...Value) Fact { return Fact{code, values} }

// Number is a named number.
func Number(name string, x float64) Value { return Value{Name: name, Number: x} }

// Count is a named whole number.
func Count(name string, n int) Value { return Number(name, float64(n)) }

// Text is a named text.
func Text(name, text string) Value { return Value{Name: name, Text: text} }

// Name is the name of a thing by the name of the value; not known where it is "".
func Name[S ~string](name string, of S) Value {
	if of == "" {
		return Number(name, math.NaN())
	}
	return Text(name, string(of))
}

// Detail is a named fact, part of what another tells; nothing where it has no code.
func Detail(name string, f Fact) Value {
	if f.Code == "" {
		return Number(name, math.NaN())
	}
	return Value{Name: name, Fact: &f}
}

// Reason is the fact that another rests on.
func Reason(why Fact) Value { return Detail("reason", why) }

// String is a fact in one line for logs and tests: "code(name=value, name=value)".
func (f Fact) String() string {
	var all []string
	for _, v := range f.Values {
		switch {
		case v.Fact != nil:
			all = append(all, v.Name+"="+v.Fact.String())
		case v.Text != "":
			all = append(all, v.Name+"="+v.Text)
		default:
			all = append(all, v.Name+"="+strconv.FormatFloat(v.Number, 'g', -1, 64))
		}
	}
	return string(f.Code) + "(" + strings.Join(all, ", ") + ")"
}

// Value finds a value by its name; ok tells whether there is one.
func (f Fact) Value(name string) (v Value, ok bool) {
	for _, v := range f.Values {
		if v.Name == name {
			return v, true
		}
	}
	return Value{}, false
}

// Is tells whether two facts are one.
func (f Fact) Is(other Fact) bool {
	return f.Code == other.Code && slices.EqualFunc(f.Values, other.Values, Value.is)
}

func (v Value) is(other Value) bool {
	if v.Fact != nil && other.Fact != nil {
		return v.Name == other.Name && v.Fact.Is(*other.Fact)
	}
	return v == other
}

// Has tells whether one of the facts has a code.
func Has(all []Fact, code Code) bool {
	for _, f := range all {
		if f.Code == code {
			return true
		}
	}
	return false
}

// Plural is a number of things: "1 sub", "22 subs".
func Plural(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return strconv.Itoa(n) + " " + thing + "s"
}
