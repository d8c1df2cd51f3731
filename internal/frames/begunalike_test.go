package frames

import (
	"fmt"
	"testing"
)

// A picture that began with a sub and took as long as several is made of them; a longer sub
// of a plan, of another camera or beside a copy of the start alone is one.
func TestPicturesBegunWithASub(t *testing.T) {
	for _, c := range []struct {
		what            string
		start, exposure string
		camera          string
		want            Kind
	}{
		{"made of six", "21:00:00", "360", "C", Product},
		{"of four", "21:01:10", "240", "C", Product},
		{"a longer one afterwards", "21:10:00", "360", "C", Light},
		{"another camera's", "21:00:00", "360", "D", Light},
		{"twice as long", "21:00:00", "120", "C", Light},
		{"no whole multiple", "21:00:00", "333", "C", Light},
		{"not begun with one", "21:00:31", "360", "C", Light},
	} {
		dir := t.TempDir()
		file := func(start, exposure, camera string, seed uint64) []byte {
			s := lightScene
			s.seed = seed
			return s.file("IMAGETYP= 'Light'", keyed("INSTRUME", "'"+camera+"'"), keyed("DATE-OBS", "'2025-03-01T"+start+"'"), keyed("EXPTIME", exposure))
		}
		for i := range 6 {
			writeIn(t, dir, fmt.Sprintf("sub%d.fits", i), file(fmt.Sprintf("21:%02d:%02d", i*70/60, i*70%60), "60", "C", uint64(i)))
		}
		writeIn(t, dir, "odd.fits", file(c.start, c.exposure, c.camera, 50))
		fs := byName(scanDir(t, dir))
		if got := fs["odd.fits"].Kind; got != c.want {
			t.Errorf("%s: %q, want %q", c.what, got, c.want)
		}
		if got := fs["sub0.fits"].Kind; got != Light {
			t.Errorf("%s: the sub is %q", c.what, got)
		}
	}
	dir := t.TempDir() // dates alone begin all at once
	for i, exposure := range []string{"60", "60", "60", "60", "300"} {
		s := lightScene
		s.seed = uint64(i)
		writeIn(t, dir, fmt.Sprintf("s%d.fits", i), s.file("IMAGETYP= 'Light'", "INSTRUME= 'C'", "DATE-OBS= '2025-03-01'", keyed("EXPTIME", exposure)))
	}
	if got := byName(scanDir(t, dir))["s4.fits"].Kind; got != Light {
		t.Errorf("dates alone: %q", got)
	}
}
