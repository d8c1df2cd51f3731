package review

import (
	"bytes"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"fitsqa/internal/stars"
)

// Middle grey lies where it was asked for, black and white at the ends, and a
// middle at one half is a straight line.
func TestToneCurve(t *testing.T) {
	for _, mid := range []float64{0.001, 0.014, 0.2, 0.5} {
		c := Stretch{Black: 100, White: 1100, Mid: mid}.toneCurve()
		if c[0] != 0 || c[len(c)-1] != 255 {
			t.Errorf("mid %g runs from %d to %d", mid, c[0], c[len(c)-1])
		}
		if got := int(c[int(mid*float64(len(c)-1)+0.5)]); got < 126 || got > 129 { // 127.5, and half a step of the curve
			t.Errorf("mid %g is grey %d", mid, got)
		}
		for i := 1; i < len(c); i++ {
			if c[i] < c[i-1] {
				t.Fatalf("mid %g falls at %d", mid, i)
			}
		}
	}
	straight := Stretch{White: 1, Mid: 0.5}.toneCurve()
	if got := straight[len(straight)/4]; got < 63 || got > 65 {
		t.Errorf("a quarter of a straight line is %d", got)
	}
	inverted := Stretch{White: 1, Mid: 0.5, Invert: true}.toneCurve()
	if inverted[0] != 255 || inverted[len(inverted)-1] != 0 {
		t.Error("inverted is not")
	}
	for _, bad := range []Stretch{{}, {White: 1}, {White: 1, Mid: 0.6}, {Black: 1, White: 1, Mid: 0.5}, {White: math.Inf(1), Mid: 0.5}, {Black: math.NaN(), White: 1, Mid: 0.1}} {
		if bad.valid() {
			t.Errorf("%+v is taken", bad)
		}
	}
	var out [3]uint8
	straight.shades(out[:], 1, []float32{float32(math.NaN()), -5, 7}, 0, 1)
	if out != [3]uint8{0, 0, 255} {
		t.Errorf("no number, far below and far above are %v", out)
	}
}

// A mosaic comes out in its colours, the sky grey, whatever the pattern and
// whatever the size that is looked at.
func TestMosaicHasColours(t *testing.T) {
	const w, h = 2800, 40
	for _, bayer := range []string{"RGGB", "BGGR", "GRBG", "GBRG"} {
		raw := make([]uint16, w*h)
		for y := range h {
			for x := range w {
				k := plane(rune(bayer[y%2*2+x%2]))
				v := []int{600, 1000, 800}[k] // the sky of each colour
				v += (x*7+y*13)%9 - 4         // noise
				if x >= 600 && x < 700 {
					v += []int{4000, 0, 0}[k] // a red field
				}
				raw[y*w+x] = uint16(v)
			}
		}
		p := &picture{width: w, height: h, bayer: bayer, levels: []level{{width: w, height: h, planes: []samples{{u16: raw}}}}}
		p.addLevels()
		p.measureSky()
		if len(p.levels) != 4 {
			t.Fatalf("%d levels", len(p.levels))
		}
		s := Stretch{Black: 700, White: 3000, Mid: 0.5}
		for z := range p.levels {
			at := 650 >> z
			im, err := png.Decode(bytes.NewReader(p.tile(z, at/tileSize, 0, s, s.toneCurve())))
			if err != nil {
				t.Fatal(err)
			}
			red, green, blue, _ := im.At(at%tileSize, 2).RGBA()
			if red>>8 < 250 || green>>8 > 26 || blue>>8 > 26 { // white for red; the sky's tenth for the others
				t.Errorf("%s, level %d: the red field is %d %d %d", bayer, z, red>>8, green>>8, blue>>8)
			}
			sky, err := png.Decode(bytes.NewReader(p.tile(z, 0, 0, s, s.toneCurve())))
			if err != nil {
				t.Fatal(err)
			}
			red, green, blue, _ = sky.At(100>>z, 2).RGBA()
			if spread := max(red, green, blue)>>8 - min(red, green, blue)>>8; spread > 1 {
				t.Errorf("%s, level %d: the sky is %d %d %d", bayer, z, red>>8, green>>8, blue>>8)
			}
		}
	}
}

// A smaller copy is the mean of two by two pixels, whichever way they are kept and
// however many there are.
func TestHalfIsTheMean(t *testing.T) {
	for _, size := range [][2]int{{2, 2}, {3, 5}, {7, 2}, {64, 33}} {
		w, h := size[0], size[1]
		whole, real := samples{u16: make([]uint16, w*h)}, samples{f32: make([]float32, w*h)}
		for i := range w * h {
			whole.u16[i] = uint16(i * 7919)
			real.f32[i] = float32(whole.u16[i])
		}
		out := level{width: w, height: h, planes: []samples{whole, real}}.half()
		for y := range h / 2 {
			for x := range w / 2 {
				at := 2*y*w + 2*x
				want := (real.f32[at] + real.f32[at+1] + real.f32[at+w] + real.f32[at+w+1]) / 4
				i := y*out.width + x
				if got := out.planes[1].f32[i]; got != want {
					t.Errorf("%v at %d, %d: %g, want %g", size, x, y, got, want)
				}
				if got := out.planes[0].u16[i]; got != uint16(want+0.5) {
					t.Errorf("%v at %d, %d: %d, want %g rounded", size, x, y, got, want)
				}
			}
		}
	}
}

// Tiles cover the frame and nothing else, row 0 first; pixels that are no
// numbers do not spoil what is made smaller of them.
func TestTilesCoverTheFrame(t *testing.T) {
	const w, h = 1300, 700
	raw := make([]float32, w*h)
	for i := range raw {
		raw[i] = float32(i / w) // as bright as its row
	}
	raw[5] = float32(math.NaN())
	p := &picture{width: w, height: h, levels: []level{{width: w, height: h, planes: []samples{{f32: raw}}}}}
	p.levels = append(p.levels, p.levels[0].half())
	s := Stretch{White: 700, Mid: 0.5}
	for _, c := range []struct{ z, x, y, w, h int }{{0, 0, 0, 512, 512}, {0, 2, 1, 276, 188}, {1, 1, 0, 138, 350}, {0, 3, 0, 0, 0}, {0, 0, 2, 0, 0}, {2, 0, 0, 0, 0}, {0, -1, 0, 0, 0}} {
		b := p.tile(c.z, c.x, c.y, s, s.toneCurve())
		if c.w == 0 {
			if b != nil {
				t.Errorf("%+v is drawn", c)
			}
			continue
		}
		im, err := png.Decode(bytes.NewReader(b))
		if err != nil {
			t.Fatal(err)
		}
		if got := im.Bounds().Size(); got.X != c.w || got.Y != c.h {
			t.Errorf("%+v is %v", c, got)
		}
		first, _, _, _ := im.At(3, 0).RGBA()
		last, _, _, _ := im.At(3, c.h-1).RGBA()
		if first >= last {
			t.Errorf("%+v does not begin with the first row", c)
		}
	}
	if v := p.levels[1].planes[0].f32[2]; v != 2.0/3 { // rows 0, 1 and 1
		t.Errorf("three pixels of four make %g", v)
	}
}

// Compressed frames, floats and a frame of a mosaic are read as well; one that is
// no image is refused.
func TestReadsEveryKindOfFrame(t *testing.T) {
	root := "../../testdata/fits"
	for _, c := range []struct {
		path string
		w, h int
	}{
		{"formats/m13_rice.fits", 300, 300}, {"formats/m13_gzip.fits", 300, 300}, {"formats/m13real_rice.fits", 300, 300},
		{"field-a/sub_0037.fits.gz", 512, 512}, {"mosaic/one_trail.fits.gz", 200, 200},
	} {
		p, err := readPicture(filepath.Join(root, c.path))
		if err != nil {
			t.Errorf("%s: %v", c.path, err)
			continue
		}
		if colour := p.bayer != ""; colour != (len(p.levels) == 2) { // these are small
			t.Errorf("%s: %d levels of a frame with pattern %q", c.path, len(p.levels), p.bayer)
		}
		if p.width != c.w || p.height != c.h || !(p.noise[0] > 0) {
			t.Errorf("%s: %d x %d, noise %g", c.path, p.width, p.height, p.noise[0])
		}
		if !p.autoStretch().valid() || p.tile(0, 0, 0, p.autoStretch(), p.autoStretch().toneCurve()) == nil {
			t.Errorf("%s: no tile under %+v", c.path, p.autoStretch())
		}
	}
	if _, err := readPicture(filepath.Join(root, "formats/m13_hcomp.fits")); err == nil {
		t.Error("a coding that is not read is shown")
	}
}

// A colour mosaic of 61 megapixels is read with its smaller copies in twice the
// memory of its file; its colours are told apart in the whole frame and at full size.
func TestLargestFrames(t *testing.T) {
	if testing.Short() {
		t.Skip("writes and reads 61 megapixels")
	}
	const w, h = 9576, 6388
	pixels := make([]int16, w*h)
	for i := range pixels { // red cells in the right quarter, noise of 50 counts everywhere
		v := 1000 + (i*7919)%101 - 32768
		if x, y := i%w, i/w; x%2 == 0 && y%2 == 0 && x > 3*w/4 {
			v += 2000
		}
		pixels[i] = int16(v)
	}
	path := filepath.Join(t.TempDir(), "mosaic.fits")
	writeFITS(t, path, w, h, 0, pixels, "BAYERPAT= 'RGGB    '")
	began := time.Now()
	p, err := readPicture(path)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("read in %.0f ms", 1000*time.Since(began).Seconds())
	if file := int64(2 * w * h); p.bayer != "RGGB" || p.bytes() > 2*file+file/50 {
		t.Errorf("pattern %q, %d bytes for a file of %d", p.bayer, p.bytes(), file)
	}
	last := len(p.levels) - 1
	if l := p.levels[last]; l.width > smallest || l.width <= smallest/2 {
		t.Errorf("the smallest copy is %d px wide", l.width)
	}
	s := Stretch{Black: 900, White: 3500, Mid: 0.5}
	began = time.Now()
	for z, at := range map[int][2]int{last: {0, 0}, 0: {15, 6}} { // in that quarter
		im, err := png.Decode(bytes.NewReader(p.tile(z, at[0], at[1], s, s.toneCurve())))
		if err != nil {
			t.Fatal(err)
		}
		r, _, b, _ := im.At(im.Bounds().Dx()-20, 100).RGBA()
		if r < b+0x3000 {
			t.Errorf("level %d: red %#x, blue %#x", z, r, b)
		}
	}
	t.Logf("two tiles in %.0f ms", 1000*time.Since(began).Seconds())
}

// The store reads a picture once for all who ask at a time, keeps the last ones,
// and tries again what failed.
func TestStore(t *testing.T) {
	st := newStore()
	reads := 0
	large := func() (*picture, error) {
		reads++
		return &picture{levels: []level{{planes: []samples{{f32: make([]float32, pictureMemory/12)}}}}}, nil // a third of the room
	}
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() { _, _ = st.get(0, large) })
	}
	wg.Wait()
	if reads != 1 {
		t.Errorf("read %d times", reads)
	}
	for i := range 5 {
		if _, err := st.get(i, large); err != nil {
			t.Fatal(err)
		}
	}
	if reads != 5 || len(st.entries) != 3 || st.entries[4] == nil || st.entries[0] != nil {
		t.Errorf("%d reads, %d kept: %v", reads, len(st.entries), st.used)
	}
	failed := 0
	for range 2 {
		if _, err := st.get(9, func() (*picture, error) { failed++; return nil, os.ErrNotExist }); err == nil {
			t.Error("no error")
		}
	}
	if failed != 2 || len(st.entries) != 3 {
		t.Errorf("tried %d times, %d kept", failed, len(st.entries))
	}
}

// A Moffat star drawn without noise has a profile that its own curve runs
// through (Moffat 1969, A&A 3, 455): at the centre within the light that a pixel
// averages, and far out.
func TestProfileFollowsItsCurve(t *testing.T) {
	const w, h, fwhm, beta, sky, flux = 200, 200, 6.0, 3.0, 500.0, 200000.0
	core := fwhm / 2 / math.Sqrt(math.Pow(2, 1/beta)-1)
	raw := make([]float32, w*h)
	for i := range raw {
		dx, dy := float64(i%w)-100.3, float64(i/w)-99.6
		raw[i] = float32(sky + flux*(beta-1)/(math.Pi*core*core)*math.Pow(1+(dx*dx+dy*dy)/(core*core), -beta))
	}
	p := &picture{width: w, height: h, levels: []level{{width: w, height: h, planes: []samples{{f32: raw}}}}}
	got := p.profileOf(stars.Star{X: 100.3, Y: 99.6, Flux: flux, Fitted: true, FWHM: fwhm, Beta: beta})
	if len(got.Radius) < 500 || got.Peak == nil {
		t.Fatalf("%d points, peak %v", len(got.Radius), got.Peak)
	}
	for i, r := range got.Radius {
		want := *got.Peak * math.Pow(1+r*r/(*got.Core**got.Core), -*got.Beta)
		// What is left of the star in the ring around it is taken for sky: 0.3 % of its peak.
		if !(math.Abs(got.Value[i]-want) <= 0.004**got.Peak) {
			t.Fatalf("at %.1f px %.0f, want %.0f", r, got.Value[i], want)
		}
	}
}

// With north up and east to the left +y points north and -x east; a camera
// turned by 90 degrees through east has +y to the east (FITS paper II, Calabretta
// and Greisen 2002, A&A 395, 1077: position angles run from north through east).
func TestCompass(t *testing.T) {
	for _, c := range []struct {
		angle       float64
		mirrored    bool
		north, east float64
	}{{0, false, 90, 180}, {0, true, 90, 0}, {90, false, 0, 90}, {90, true, 180, 90}, {180, false, -90, 0}} {
		north, east := compass(c.angle, c.mirrored)
		if math.Mod(north-c.north, 360) != 0 || math.Mod(east-c.east, 360) != 0 {
			t.Errorf("%+v: north %g, east %g", c, north, east)
		}
	}
}
