package night

import (
	"path/filepath"
	"runtime"
	"slices"
	"testing"

	"fitsqa/internal/frames"
)

// A picture drawn in parts is that of the whole frame.
func TestEnlargedIsTheWholeMadeSmall(t *testing.T) {
	files, err := filepath.Glob("../../testdata/fits/*/*.f*ts*")
	if err != nil {
		t.Fatal(err)
	}
	drawn := 0
	for _, file := range files {
		f := frames.File(file, frames.DefaultScanOptions)
		var im frames.Image
		if f.Err != nil || f.Read(&im) != nil {
			continue
		}
		plane := min(im.Planes-1, 1)
		for _, width := range []int{7, 100, 5000} {
			want := frames.Shrink(im.Float32(plane, nil), im.Width, im.Height, width, f.Meta.Bayer != "")
			for _, processors := range []int{1, 3} {
				before := runtime.GOMAXPROCS(processors)
				got, err := (&Sub{Frame: f}).Enlarged(width)
				runtime.GOMAXPROCS(before)
				if err != nil {
					t.Fatal(err)
				}
				drawn++
				if got.Width != want.Width || got.Height != want.Height || !slices.EqualFunc(got.Pixels, want.Pixels, sameFloat[float32]) {
					t.Errorf("%s, %d px wide, on %d: another picture", file, width, processors)
				}
			}
		}
	}
	if drawn < 12 {
		t.Errorf("%d pictures of %d files", drawn, len(files))
	}
}
