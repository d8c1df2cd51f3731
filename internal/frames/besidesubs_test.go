package frames

import "testing"

// Stars of 1.2 to 2 px lie in single blocks of four pixels; hot pixels, also so many that
// some lie side by side, are no stars.
func TestNarrowStarsTellUnnamedSubs(t *testing.T) {
	mosaic := [4]float64{1, 0.8, 1.3, 1}
	for _, c := range []struct {
		what  string
		scene scene
		want  Kind
	}{
		{"1.2 px, 1.4 with the pixel's own width", scene{level: 1800, noise: 25, stars: 200, hot: 300, sigma: 0.6}, Light},
		{"1.5 px", scene{level: 1800, noise: 25, stars: 60, hot: 300, sigma: 0.65}, Light},
		{"1.8 px, few", scene{level: 1800, noise: 25, stars: 25, sigma: 0.78}, Light},
		{"1.5 px, mosaic", scene{level: 1800, noise: 25, stars: 60, hot: 300, sigma: 0.65, colour: mosaic}, Light},
		{"2 px, many hot pixels", scene{level: 1800, noise: 25, stars: 120, hot: 3000, sigma: 0.85}, Light},
		{"dark, 800 hot pixels", darkScene, Dark},
		{"dark, one pixel in twenty hot", scene{level: 1010, noise: 6, hot: 8000}, Dark},
	} {
		for seed := range uint64(5) {
			c.scene.seed = seed
			if f := scanBytes(t, "img_0001.fits", c.scene.file("EXPTIME = 60")); f.Kind != c.want {
				t.Errorf("%s, seed %d: %q, want %q; %v", c.what, seed, f.Kind, c.want, f.look)
			}
		}
	}
}

// What has no stars among subs of its folder and exposure is a sub where it has their
// light: clouded, or in twilight. Darks and flats of other folders or exposures stay, and
// so do those in the folder that are darker than the subs.
func TestStarlessSubsAreNoDarks(t *testing.T) {
	cloudy, dawn := scene{level: 2600, noise: 30}, scene{level: 30000, noise: 120}
	full := scene{level: 70000, noise: 0}
	for _, c := range []struct {
		what, name string
		frame      scene
		exposure   string
		want       Kind
	}{
		{"clouded", "L/x.fits", cloudy, "60", Light},
		{"dawn", "L/x.fits", dawn, "60", Light},
		{"dawn that fills the range", "L/x.fits", full, "60", Light},
		{"no star in the rows that are looked at", "L/x.fits", scene{level: 1801, noise: 25, hot: 300}, "60", Light},
		{"dark beside the subs", "L/x.fits", darkScene, "60", Dark},
		{"warm dark, as bright and with less noise", "L/x.fits", scene{level: 1900, noise: 8, hot: 800}, "60", Dark},
		{"bright dark of another folder", "D/x.fits", cloudy, "60", Dark},
		{"bright dark of another exposure", "L/x.fits", cloudy, "300", Dark},
		{"flat of another exposure", "L/x.fits", flatScene, "3", Flat},
		{"flat of another folder", "F/x.fits", flatScene, "60", Flat},
	} {
		dir := t.TempDir()
		for i := range 4 {
			sub := lightScene
			sub.seed = uint64(i)
			writeIn(t, dir, "L/a"+string(rune('0'+i))+".fits", sub.file("EXPTIME = 60"))
		}
		writeIn(t, dir, c.name, c.frame.file("EXPTIME = "+c.exposure))
		got := byName(scanDir(t, dir))
		if f := got[c.name]; f.Kind != c.want {
			t.Errorf("%s: %q, want %q; %v", c.what, f.Kind, c.want, f.look)
		}
	}
}
