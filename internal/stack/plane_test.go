package stack

import (
	"math"
	"slices"
	"sync"
	"testing"
)

// plane1 has so many pixels, one of them NaN, no two alike.
func plane1(n, k int) []float32 {
	px := make([]float32, n)
	for i := range px {
		px[i] = float32(i) + float32(k)/16
	}
	px[n/2] = float32(math.NaN())
	return px
}

// alike is ==, NaN included.
func alike(a, b float32) bool { return math.Float32bits(a) == math.Float32bits(b) }

// Planes come back as they were put in, whole and in strips, whether their room
// holds all of them, one, or none, and from several goroutines at once.
func TestPlanesComeBack(t *testing.T) {
	const n, planes = 2*ReadPixels + 77, 5
	for _, limit := range []int64{1 << 30, 4 * n, 0} {
		r := NewRoom(limit)
		var all []*Plane
		for k := range planes {
			all = append(all, r.Add(plane1(n, k)))
		}
		var wg sync.WaitGroup
		for k := range 2 * planes {
			wg.Go(func() {
				p, want := all[k%planes], plane1(n, k%planes)
				if k%2 == 0 && !slices.EqualFunc(want, p.Pixels(), alike) {
					t.Errorf("room for %d bytes, plane %d is another", limit, k%planes)
				}
				for _, at := range []int{0, n/2 - 3, n - 10} {
					if got := p.Strip(at, 10); !slices.EqualFunc(want[at:at+10], got, alike) {
						t.Errorf("room for %d bytes, plane %d from %d: %v, want %v", limit, k%planes, at, got, want[at:at+10])
					}
				}
			})
		}
		wg.Wait()
		var held int64
		for _, p := range all {
			held += 4 * int64(len(p.held))
		}
		if held > limit {
			t.Errorf("%d bytes are in memory, of %d", held, limit)
		}
	}
	if p := NewRoom(0).Add(nil); p != nil || p.Len() != 0 || p.Pixels() != nil {
		t.Error("a plane without pixels is one")
	}
}

// Without a place for the file all stay in memory.
func TestPlanesWithoutAFile(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir()+"/none")
	r := NewRoom(0)
	p := r.Add(plane1(10, 1))
	if got := p.Strip(2, 2); got[0] != 2+1./16 {
		t.Errorf("%v", got)
	}
}

// A file that fails gives NaN, never another number.
func TestPlaneThatCannotBeReadBack(t *testing.T) {
	r := NewRoom(0)
	p := r.Add(plane1(10, 1))
	if err := r.file.Truncate(8); err != nil {
		t.Fatal(err)
	}
	if got := p.Strip(0, 2); got[0] != 1./16 {
		t.Errorf("%v", got)
	}
	if got := p.Strip(4, 2); !math.IsNaN(float64(got[0])) || !math.IsNaN(float64(got[1])) {
		t.Errorf("%v", got)
	}
	if p.Pixels() != nil {
		t.Error("the whole plane is given")
	}
}
