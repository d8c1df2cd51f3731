package night

import (
	"math"
	"reflect"
	"runtime"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"fitsqa/internal/frames"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/photometry"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// What is packed comes back as it was, NaN and empty lists too; what does not
// fit together is refused and leaves nothing half filled to be used.
func TestPackedMeasurements(t *testing.T) {
	star := stars.Star{X: 1.5, Y: -2, Flux: 1e6, FluxErr: 3, Peak: 9, SNR: 12, Fitted: true, FWHM: math.NaN(), Beta: 3.5, Ellipticity: 0.1, Angle: -45, HFD: 4, Saturated: true, Blended: true}
	for _, list := range [][]stars.Star{nil, {star}, {star, {Y: 7}, star}} {
		want := &stars.Field{Width: 9, Height: 8, Stars: list, Points: list, Broad: list, Count: len(list), Sky: stats.Known(500, 0.1, 7), HFD: stats.Missing("no star")}
		picture := &frames.Preview{Width: 2, Height: 1, Step: 3, Pixels: []float32{1, float32(math.NaN())}, Crops: []frames.Crop{{X: 1, Width: 1, Height: 1, Pixels: []float32{7}}, {}}}
		same := func(p packedMeasurement) {
			t.Helper()
			field, ok := p.field()
			preview, ok2 := p.Picture.preview()
			if diff := cmp.Diff(want, field, cmp.Comparer(sameFloat[float64])) + cmp.Diff(picture, preview, cmp.Comparer(sameFloat[float32])); !ok || !ok2 || diff != "" {
				t.Errorf("%d stars, sound %v and %v (-packed +unpacked):\n%s", len(list), ok, ok2, diff)
			}
		}
		p := packMeasurement(want, packPicture(picture))
		if len(picture.Crops[0].Pixels) != 1 {
			t.Fatal("packing emptied what was packed")
		}
		same(p)
		raw, err := p.MarshalBinary()
		if err != nil {
			t.Fatal(err)
		}
		var again packedMeasurement
		if err := again.UnmarshalBinary(raw); err != nil {
			t.Fatal(err)
		}
		same(again)
		for cut := range raw {
			var torn packedMeasurement
			if torn.UnmarshalBinary(raw[:cut]) != nil {
				continue
			}
			if _, ok := torn.field(); ok {
				t.Errorf("%d stars: %d of %d bytes were taken", len(list), cut, len(raw))
			}
		}
		for name, spoil := range map[string]func(*packedMeasurement){
			"stars":  func(p *packedMeasurement) { p.Stars = append(p.Stars, 0) },
			"pixels": func(p *packedMeasurement) { p.Picture.lists[0] = p.Picture.lists[0][1:] },
			"crops":  func(p *packedMeasurement) { p.Picture.lists = p.Picture.lists[:1] },
			"crop":   func(p *packedMeasurement) { p.Picture.lists[1] = p.Picture.lists[1][:3] },
		} {
			q := packMeasurement(want, packPicture(picture))
			spoil(&q)
			if _, ok := q.field(); ok {
				t.Errorf("%d stars: spoilt %s were taken", len(list), name)
			}
		}
	}
}

// What is packed as it lies in memory must be all there.
func TestPackedTypesHoldNoPointers(t *testing.T) {
	for _, of := range []reflect.Type{reflect.TypeFor[stars.Star](), reflect.TypeFor[[2]int](), reflect.TypeFor[float32]()} {
		if holdsPointers(of) {
			t.Errorf("%v holds pointers", of)
		}
	}
	if !holdsPointers(reflect.TypeFor[stars.Field]()) {
		t.Error("pointers are not found")
	}
}

func holdsPointers(of reflect.Type) bool {
	switch of.Kind() {
	case reflect.Struct:
		for i := range of.NumField() {
			if holdsPointers(of.Field(i).Type) {
				return true
			}
		}
		return false
	case reflect.Array:
		return holdsPointers(of.Elem())
	case reflect.Pointer, reflect.Slice, reflect.String, reflect.Map, reflect.Interface, reflect.Func, reflect.Chan, reflect.UnsafePointer:
		return true
	}
	return false
}

func sameFloat[T float32 | float64](a, b T) bool { return a == b || a != a && b != b }

func TestPackedTies(t *testing.T) {
	sub := func(a registration.Alignment, ratio float64) *Sub {
		return &Sub{Sub: &subs.Sub{Align: a, Transparency: photometry.Transparency{Ratio: stats.Known(ratio, 0.01, 50), Unevenness: stats.Missing("few stars")}}}
	}
	same := []*Sub{
		sub(registration.Alignment{Transform: registration.Transform{A: 1, E: 1}, ShiftX: stats.Known(2, 0.1, 9), Scale: 1, Flipped: true, Pairs: [][2]int{{0, 3}, {70000, 2}}}, 1),
		sub(registration.Alignment{ShiftX: stats.Missing("no stars")}, 0.7),
	}
	same[0].fixed = []int{1, 2}
	p := packTies(same)
	again := []*Sub{sub(registration.Alignment{}, 0), sub(registration.Alignment{}, 0)}
	again[0].Field = &stars.Field{Count: 4, Stars: make([]stars.Star, 4)}
	if !p.unpack(again) {
		t.Fatal("refused")
	}
	for i, s := range same {
		if diff := cmp.Diff(s.Align, again[i].Align, cmp.Comparer(sameFloat[float64])) + cmp.Diff(s.Transparency, again[i].Transparency, cmp.Comparer(sameFloat[float64])); diff != "" {
			t.Errorf("sub %d: %s", i, diff)
		}
	}
	if f := again[0].Field; f.Count != 2 || len(f.Stars) != 2 || !slices.Equal(again[0].fixed, same[0].fixed) {
		t.Errorf("%d stars are left, want 2; taken off: %v", f.Count, again[0].fixed)
	}
	if p.unpack(again[:1]) {
		t.Error("the ties of two subs were taken for one")
	}
	p.Pairs[0] = p.Pairs[0][1:]
	if p.unpack(again) {
		t.Error("torn pairs were taken")
	}
}

// A field that stays in memory holds nothing of what it was packed with.
func TestUnpackedFieldHoldsNoPicture(t *testing.T) {
	packed := packMeasurement(&stars.Field{Stars: []stars.Star{{X: 1}}},
		packPicture(&frames.Preview{Width: 100, Height: 100, Step: 1, Pixels: make([]float32, 10_000)}))
	raw, err := packed.MarshalBinary()
	if err != nil {
		t.Fatal(err)
	}
	var kept []*stars.Field
	before := heapInUse()
	for range 1000 {
		var p packedMeasurement
		if err := p.UnmarshalBinary(slices.Clone(raw)); err != nil {
			t.Fatal(err)
		}
		field, ok := p.field()
		if !ok {
			t.Fatal("not sound")
		}
		kept = append(kept, field)
	}
	// A field takes some 1.5 kB by itself, a picture 40.
	if each := (int64(heapInUse()) - int64(before)) / 1000; each > 4000 {
		t.Errorf("a field beside a picture of 40000 bytes takes %d bytes of memory", each)
	}
	runtime.KeepAlive(kept)
}
