package sensor

import (
	"fmt"
	"os"
	"reflect"
	"strings"
	"testing"
)

var kinds = []string{KindBias, KindDark, KindFlat, KindCamera}

// Every figure of a kind's result is in its table once, under a name, and nothing
// else is; a new set has the reason in all of them.
func TestDefinitionsAreTheFields(t *testing.T) {
	for _, kind := range kinds {
		s := NewSet(kind, "nothing there")
		var of reflect.Value
		for _, v := range []any{s.Bias, s.Dark, s.Flat, s.Summary} {
			if r := reflect.ValueOf(v); !r.IsNil() {
				of = r.Elem()
			}
		}
		defined := map[uintptr]string{}
		names := map[string]bool{}
		for _, m := range s.Metrics() {
			if m.Name == "" || m.Title == "" || names[m.Name] {
				t.Errorf("%s: %q, %q: without a name or a title, or twice", kind, m.Name, m.Title)
			}
			if m.OK() || m.Why.Code != "nothing there" || m.Lead != "" && !m.Leading {
				t.Errorf("%s: %s of a new set is %+v", kind, m.Name, m)
			}
			names[m.Name] = true
			at := reflect.ValueOf(s.Figure(m.Name)).Pointer()
			if other := defined[at]; other != "" {
				t.Errorf("%s: %s and %s are one field", kind, other, m.Name)
			}
			defined[at] = m.Name
		}
		for i := range of.NumField() {
			if f := of.Field(i); f.Type() == reflect.TypeFor[Figure]() {
				if defined[f.Addr().Pointer()] == "" {
					t.Errorf("%s: the figure %s has no line in the table", kind, of.Type().Field(i).Name)
				}
				delete(defined, f.Addr().Pointer())
			}
		}
		if len(defined) > 0 {
			t.Errorf("%s: of another kind: %v", kind, defined)
		}
	}
}

// README.md lists the figures of every kind, in the order of the reports.
func TestReadmeListsFigures(t *testing.T) {
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, kind := range kinds {
		var names []string
		for _, d := range Definitions(kind) {
			names = append(names, d.Name)
		}
		if row := fmt.Sprintf("| %s | `%s` |\n", kind, strings.Join(names, ", ")); !strings.Contains(string(text), row) {
			t.Errorf("README.md lacks the line\n%s", row)
		}
	}
}
