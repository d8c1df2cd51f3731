package frames

import (
	"fmt"
	"math"
	"testing"
)

// Subs that a wrong setting called calibration frames are of no kind; twilight flats with
// stars, starry flats of another length and darks stay what they are called.
func TestSubsCalledCalibration(t *testing.T) {
	called := func(kind string, seconds int, s scene) []byte {
		s.seed = 77
		return s.file(keyed("IMAGETYP", "'"+kind+"'"), fmt.Sprintf("EXPTIME = %d", seconds))
	}
	fewer, brighter := lightScene, lightScene
	fewer.stars, brighter.level = 20, 9000
	for _, c := range []struct {
		what string
		file []byte
		subs int
		want Kind
	}{
		{"flat", called("Flat", 60, lightScene), 4, Unknown},
		{"dark", called("Dark", 60, lightScene), 4, Unknown},
		{"bias", called("Bias", 60, lightScene), 4, Unknown},
		{"under haze", called("Flat", 60, scene{level: 2400, noise: 28, stars: 90, hot: 300}), 4, Unknown},
		{"two subs tell nothing", called("Flat", 60, lightScene), 2, Flat},
		{"shorter", called("Flat", 5, lightScene), 4, Flat},
		{"few stars", called("Flat", 60, fewer), 4, Flat},
		{"twilight flat", called("Flat", 60, brighter), 4, Flat},
		{"true dark", called("Dark", 60, darkScene), 4, Dark},
	} {
		dir := t.TempDir()
		for i := range c.subs {
			s := lightScene
			s.seed = uint64(i)
			writeIn(t, dir, fmt.Sprintf("sub%d.fits", i), s.file("EXPTIME = 60", "IMAGETYP= 'Light'"))
		}
		writeIn(t, dir, "odd.fits", c.file)
		f := byName(scanDir(t, dir))["odd.fits"]
		if f.Kind != c.want || f.Disputed != (c.want == Unknown) || f.Disputed != warned(f, CalledOther) || f.IsSub() {
			t.Errorf("%s: kind %q, disputed %v, want %q; %v", c.what, f.Kind, f.Disputed, c.want, f.look)
		}
	}
}

// The e-/ADU of a header says nothing of samples that are parts of 1; it does of
// floating-point ADU, dark as they may be.
func TestGainOfPartsOfOne(t *testing.T) {
	for _, c := range []struct {
		by   float64 // that the samples are divided by
		want float64
	}{{1, 1.9}, {65535, math.NaN()}, {20000, math.NaN()}} {
		px := make([]float64, sceneSide*sceneSide)
		for i, v := range lightScene.samples() {
			px[i] = (float64(v) + 32768) / c.by
		}
		f := scanBytes(t, "a.fits", floats(px, sceneSide, "IMAGETYP= 'Light'", "EXPTIME = 60", "EGAIN   = 1.9"))
		if got := f.Meta.ElectronsPerADU; got != c.want && !(math.IsNaN(got) && math.IsNaN(c.want)) || math.IsNaN(c.want) != warned(f, GainOfWhole) {
			t.Errorf("divided by %g: %v e-/ADU; %v", c.by, got, f.Findings)
		}
	}
}
