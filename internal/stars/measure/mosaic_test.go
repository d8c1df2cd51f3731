package measure

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"fitsqa/internal/frames"
	"fitsqa/internal/stars"
)

// Two subs of one field of thousands of stars, seen through a colour mosaic
// that hardly resolves them. Expected: elliptical Moffat fits, integrated over
// the pixels, of scipy's least_squares to the green pixels of seventy of the
// same stars, with the field's exponent (1.67 and 2.1; the first sub's wings are
// broader than the range of exponents allows). A Gaussian would give 1.61 and
// 1.84 px and the same ellipticities: the width depends on the profile.
func TestMosaicAgainstScipy(t *testing.T) {
	if testing.Short() {
		t.Skip("real frames of thousands of stars; TestStarsSharperThanTheMosaic draws some")
	}
	var count []float64
	for _, c := range []struct {
		name                      string
		fwhm, ellipticity, degree float64
	}{{"sub_1.fits.gz", 1.10, 0.246, -69}, {"sub_2.fits.gz", 1.50, 0.426, -86.5}} {
		im := readFrame(t, "mosaic", c.name)
		opt := stars.DefaultOptions
		opt.Bayer = true
		f, err := Measure(im.Float32(0, nil), im.Width, im.Height, opt)
		if err != nil {
			t.Fatal(err)
		}
		// 4 %: the medians are over other stars than scipy's.
		if !(math.Abs(f.FWHM.V/c.fwhm-1) < 0.04) || !(math.Abs(f.Ellipticity.V-c.ellipticity) < 0.03) || !(math.Abs(f.Angle.V-c.degree) < 4) {
			t.Errorf("%s: FWHM %v, ellipticity %v, angle %v", c.name, f.FWHM, f.Ellipticity, f.Angle)
		}
		if len(f.Notes) == 0 {
			t.Errorf("%s: nothing says how little is known", c.name)
		}
		count = append(count, float64(f.Count))
	}
	// The same sky, but one sub is trailed and so is its faint end.
	if r := count[1] / count[0]; r < 0.8 || r > 1.25 {
		t.Errorf("%v stars in the two subs", count)
	}
}

// realFolder holds real frames that are not part of the repository.
const realFolder = "../../../../shared/data"

// readFrame decodes a real frame.
func readFrame(t *testing.T, folder, name string) *frames.Image {
	t.Helper()
	path := filepath.Join(realFolder, folder, name)
	if _, err := os.Stat(path); err != nil {
		t.Skip("the real frames are not here")
	}
	var im frames.Image
	if err := frames.File(path, frames.DefaultScanOptions).Read(&im); err != nil {
		t.Fatal(err)
	}
	return &im
}
