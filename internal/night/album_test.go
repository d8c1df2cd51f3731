package night

import (
	"math"
	"os"
	"runtime"
	"testing"

	"github.com/google/go-cmp/cmp"

	"fitsqa/internal/frames"
)

func album1(t *testing.T) (*album, *frames.Preview) {
	t.Helper()
	t.Setenv("TMPDIR", t.TempDir())
	a := newAlbum()
	if a == nil {
		t.Skip("this system keeps the name of a file that is open")
	}
	return a, &frames.Preview{Width: 2, Height: 1, Step: 3, Pixels: []float32{1, float32(math.NaN())},
		Crops: []frames.Crop{{X: 1, Y: 2, Width: 1, Height: 1, Pixels: []float32{7}}, {X: 3}}}
}

// Pictures come back as they went in, and leave no file behind.
func TestAlbum(t *testing.T) {
	a, want := album1(t)
	for _, keeper := range []*album{a, nil} {
		s := &Sub{album: keeper}
		if s.HasPicture() || s.Preview() != nil {
			t.Error("a sub without a picture has one")
		}
		for range 3 {
			s.SetPreview(want)
			if diff := cmp.Diff(want, s.Preview(), cmp.Comparer(sameFloat[float32])); diff != "" {
				t.Error(diff)
			}
		}
	}
	if left, err := os.ReadDir(os.Getenv("TMPDIR")); err != nil || len(left) > 0 {
		t.Errorf("left in the folder: %v, %v", left, err)
	}
}

// A disk that fails costs memory, or pictures, and nothing else.
func TestAlbumThatFails(t *testing.T) {
	a, want := album1(t)
	s := &Sub{album: a}
	s.SetPreview(want)
	a.file.Close()
	if p := s.Preview(); p == nil || p.Width != 2 || !math.IsNaN(float64(p.Pixels[0])) || len(p.Crops) > 0 {
		t.Errorf("a picture that cannot be read is %+v", p)
	}
	s.SetPreview(want)
	if diff := cmp.Diff(want, s.Preview(), cmp.Comparer(sameFloat[float32])); diff != "" {
		t.Errorf("a picture that could not be kept: %s", diff)
	}
}

// A thousand pictures take next to no memory.
func TestAlbumIsFlat(t *testing.T) {
	a, _ := album1(t)
	var kept []*picture
	before := heapInUse()
	for range 1000 {
		kept = append(kept, a.keep(packPicture(&frames.Preview{Width: 100, Height: 100, Step: 1, Pixels: make([]float32, 10_000)})))
	}
	if each := (int64(heapInUse()) - int64(before)) / 1000; each > 1000 {
		t.Errorf("a picture of 40000 bytes takes %d bytes of memory", each)
	}
	runtime.KeepAlive(kept)
}

// heapInUse is the bytes that are reachable.
func heapInUse() uint64 {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return m.HeapAlloc
}
