package frames

import (
	"fmt"
	"testing"
)

// clipped is a scene as a camera of few bits counts it.
func (s scene) clipped(full int16, cards ...string) []byte {
	px := s.samples()
	for i, v := range px {
		if int32(v)+32768 > int32(full) {
			px[i] = int16(int32(full) - 32768)
		}
	}
	return fits(16, []int{sceneSide, sceneSide}, px, append(cards, "BZERO   = 32768", "RA      = 150.0", "DEC     = 20.0")...)
}

// Flats of 12 and 14 bits that neither header, folder nor name call so are never subs;
// starless subs as bright are, where others with stars were exposed as long or the camera
// counts further.
func TestUnnamedFlatsOfFewBits(t *testing.T) {
	stars := scene{level: 300, noise: 45, stars: 120, hot: 400} // hot pixels reach the end of 12 bits
	for _, c := range []struct {
		what     string
		full     int16 // of the camera
		sub      scene
		level    float64 // of the frame in question
		exposure int     // s, the subs have 60
		bright   bool    // something reaches the camera's end
		want     Kind
	}{
		{"12 bits, half full", 4095, stars, 1900, 2, true, Flat},
		{"12 bits, a seventh full", 4095, stars, 600, 2, true, Flat},
		{"12 bits, dim", 4095, stars, 350, 2, true, Light},
		{"12 bits, the end not seen", 4095, scene{level: 300, noise: 5, stars: 120}, 1900, 2, false, Unknown},
		{"14 bits", 16383, scene{level: 900, noise: 160, stars: 120, hot: 400}, 5000, 5, true, Flat},
		{"14 bits, dim", 16383, scene{level: 900, noise: 160, stars: 120, hot: 400}, 1500, 5, true, Light},
		{"clouded sub of 12 bits", 4095, stars, 1900, 60, true, Light},
		{"16 bits, no level for a flat", 32767, scene{level: 900, noise: 300, stars: 120, hot: 400}, 1900, 2, false, Light},
	} {
		dir := t.TempDir()
		for i := range 2 {
			sub := c.sub
			sub.seed = uint64(i)
			writeIn(t, dir, fmt.Sprintf("a%d.fits", i), sub.clipped(c.full, "EXPTIME = 60"))
		}
		frame := scene{level: c.level, noise: c.level / 100, vignetting: 0.3}
		writeIn(t, dir, "x.fits", frame.clipped(c.full, fmt.Sprintf("EXPTIME = %d", c.exposure)))
		got := byName(scanDir(t, dir))
		if f := got["x.fits"]; f.Kind != c.want || (f.Kind == Unknown) != warned(f, EvenUnnamed) {
			t.Errorf("%s: %q, want %q; %v; %+v", c.what, f.Kind, c.want, f.Findings, f.look)
		}
		if a := got["a0.fits"]; a.Kind != Light {
			t.Errorf("%s: the sub is %q; %+v", c.what, a.Kind, a.look)
		}
	}
}
