package night_test

import (
	"context"
	"fmt"
	"path/filepath"
	"reflect"
	"regexp"
	"strings"
	"testing"
	"time"

	"fitsqa/internal/demo"
)

// decimals are numbers with a fraction in a sentence; tooMany what no figure here
// deserves: more than five digits that count.
var (
	decimals = regexp.MustCompile(`\d+\.\d+`)
	tooMany  = 5
)

// overlong are the numbers of a text with more digits than they deserve.
func overlong(text string) (found []string) {
	for _, n := range decimals.FindAllString(text, -1) {
		if len(strings.TrimLeft(strings.Replace(n, ".", "", 1), "0")) > tooMany {
			found = append(found, n)
		}
	}
	return found
}

// texts calls do with every text that can be reached from v.
func texts(v reflect.Value, path string, seen map[any]bool, do func(path, text string)) {
	switch v.Kind() {
	case reflect.String:
		do(path, v.String())
	case reflect.Pointer, reflect.Interface:
		if v.IsNil() || v.Kind() == reflect.Pointer && seen[v.Pointer()] {
			return
		}
		if v.Kind() == reflect.Pointer {
			seen[v.Pointer()] = true
		}
		texts(v.Elem(), path, seen, do)
	case reflect.Struct:
		for i := range v.NumField() {
			if f := v.Type().Field(i); f.IsExported() {
				texts(v.Field(i), path+"."+f.Name, seen, do)
			}
		}
	case reflect.Slice, reflect.Array:
		switch v.Type().Elem().Kind() {
		case reflect.Float32, reflect.Float64, reflect.Uint8, reflect.Int, reflect.Int32, reflect.Uint16, reflect.Bool:
			return
		}
		for i := range v.Len() {
			texts(v.Index(i), path, seen, do)
		}
	case reflect.Map:
		for it := v.MapRange(); it.Next(); {
			texts(it.Value(), path, seen, do)
		}
	}
}

// Headers hold numbers as a computer has them; what is said of them has the digits
// that people give them.
func TestDigitsOfSentences(t *testing.T) {
	t.Parallel()
	sc := demo.Scenario{
		Name: "digits", Seed: 41, Width: 400, Height: 300, Bias: 4, FlatLevels: []float64{0.4},
		Darks:   []demo.DarkSet{{Exposure: 60, TempC: -10, Frames: 3}, {Exposure: 120, TempC: -5, Frames: 3}},
		Targets: []demo.Target{{Name: "Heron Nebula", RA: 85, Dec: 24}},
		Blocks:  []demo.Block{{Filter: "L", Exposure: 60, Subs: 10}},
		Start:   time.Date(2025, 10, 21, 3, 0, 0, 0, time.UTC),
		Stars:   400, SkyMag: 19.5, Seeing: 3, DitherPx: 4,
		Clouds: []demo.Cloud{{Span: demo.Span{First: 4, Last: 5}, Magnitudes: 1.5, Glow: 0.5}},
	}
	dir := filepath.Join(t.TempDir(), "night")
	if _, err := demo.Write(context.Background(), dir, sc, nil); err != nil {
		t.Fatal(err)
	}
	all, _ := filepath.Glob(filepath.Join(dir, "*", "*.fits"))
	for i, path := range append(all, lightsIn(t, dir)...) {
		setCards(t, path, map[string]string{
			"CCD-TEMP": fmt.Sprint(-9.96314102564102 - 0.0123456789*float64(i%5)), "SET-TEMP": "-10.0000152587891", "GAIN": "139.8107170553497", "OFFSET": "50.123456789",
			"FOCALLEN": "999.87654321", "XPIXSZ": "3.760000050812", "ROTATANG": "12.3456789012",
		})
	}
	for i, path := range lightsIn(t, dir) {
		cards := map[string]string{"EXPTIME": fmt.Sprint(60.0000123456789 + 0.001234567*float64(i))}
		switch i {
		case 1:
			cards["EXPTIME"] = "30.123456789"
		case 2:
			cards["CCD-TEMP"] = "1.96314102564102"
		case 3:
			cards["CCD-TEMP"] = "271.123456789"
		case 6:
			cards["OFFSET"] = "77.123456789"
		case 7:
			cards["GAIN"] = "77.123456789"
		}
		setCards(t, path, cards)
	}
	r := check(t, dir)
	texts(reflect.ValueOf(r), "", map[any]bool{}, func(path, text string) {
		if long := overlong(text); len(long) > 0 {
			t.Errorf("%s: %q: %v", path, text, long)
		}
	})
}
