package frames

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/fact"
)

// floats writes samples as a FITS file of 32-bit floating point.
func floats(px []float64, width int, cards ...string) []byte {
	data := make([]float32, len(px))
	for i, v := range px {
		data[i] = float32(v)
	}
	return fits(-32, []int{width, len(px) / width}, data, cards...)
}

// shifted is a picture moved by parts of a pixel, by linear interpolation.
func shifted(px []int16, width int, dx, dy float64) []float64 {
	out := make([]float64, len(px))
	at := func(x, y int) float64 {
		x, y = min(x, width-1), min(y, len(px)/width-1)
		return float64(px[y*width+x]) + 32768
	}
	for i := range px {
		x, y := i%width, i/width
		out[i] = (1-dx)*(1-dy)*at(x, y) + dx*(1-dy)*at(x+1, y) + (1-dx)*dy*at(x, y+1) + dx*dy*at(x+1, y+1)
	}
	return out
}

func TestProducts(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	const side = sceneSide
	flags := make([]int16, side*side)
	for range 400 {
		flags[rng.IntN(len(flags))] = 1
	}
	trace := make([]float64, side*side)
	for i := range trace {
		x, y := i%side, i/side
		profile := 0.0
		for _, order := range []float64{60, 130, 210, 300} {
			profile += math.Exp(-(float64(y) - order) * (float64(y) - order) / 18)
		}
		trace[i] = 1000 + 900*math.Sin(float64(y)/1.3) + 5000*profile*(1+0.1*math.Sin(float64(x)/40)) + 3*rng.NormFloat64()
	}
	quiet := make([]float64, side*side)
	for i, v := range lightScene.samples() {
		quiet[i] = 1800 + (float64(v)+32768-1800)/5
	}
	sum, unit := make([]float64, side*side), make([]float64, side*side)
	for k := range 8 {
		sc := lightScene
		sc.seed = uint64(100 + k)
		for i, v := range sc.samples() {
			sum[i] += float64(v) + 32768
			unit[i] = quiet[i] / 65535
		}
	}
	longer := lightScene // 8 times as long, and no stack
	longer.level = 1000 + 8*(lightScene.level-1000)
	colours := make([]uint8, 36000)
	for i := range colours {
		colours[i] = uint8(60 + rng.IntN(30))
	}
	dir := t.TempDir()
	for name, file := range map[string][]byte{
		"map.fits":         fits(16, []int{side, side}, flags),
		"BadPixelMap.fits": lightScene.file(),
		"empty.fits":       fits(16, []int{side, side}, make([]int16, side*side)),
		"trace.fits":       floats(trace, side, "EXPTIME = 60"),
		"wave.fits":        lightScene.file("EXPTIME = 60", "CTYPE1  = 'WAVE'"),
		"line.fits":        fits(16, []int{side}, make([]int16, side)),
		"result.fits":      floats(quiet, side),
		"mean.fits":        floats(quiet, side, "EXPTIME = 480", "IMAGETYP= 'Light'"),
		"unit.fits":        floats(unit, side, "EXPTIME = 60"),
		"sum.fits":         floats(sum, side, "EXPTIME = 480", "OBJECT  = 'Heron'"),
		"longer.fits":      floats(shifted(longer.samples(), side, 0, 0), side, "EXPTIME = 480", "IMAGETYP= 'Light'"),
		"crop.fits":        fits(16, []int{333, 300}, lightScene.samples()[:333*300], "BZERO   = 32768", "EXPTIME = 60", "IMAGETYP= 'Light'"),
		"colour.fits":      fits(8, []int{120, 100, 3}, colours, "IMAGETYP= 'Light'"),
	} {
		writeIn(t, dir, name, file)
	}
	for i := range 6 {
		sc := lightScene
		sc.seed = uint64(i)
		writeIn(t, dir, "sub"+string(rune('1'+i))+".fits", sc.file("EXPTIME = 60", "IMAGETYP= 'Light'"))
	}
	fs := byName(scanDir(t, dir))
	for name, want := range map[string]fact.Code{
		"map.fits": BadPixelMap, "BadPixelMap.fits": BadPixelMap, "empty.fits": EmptyImage, "trace.fits": Spectrum,
		"wave.fits": Spectrum, "line.fits": SpectrumOfOneAxis, "result.fits": FinishedStack, "mean.fits": FinishedStack, "unit.fits": FinishedStack, "sum.fits": FinishedStack, "longer.fits": "",
		"crop.fits": CutFromSub, "colour.fits": ColourPreview,
		"sub1.fits": "", "sub6.fits": "",
	} {
		f := fs[name]
		if f.Product != want || (want != "") != (f.Kind == Product) || want != "" && f.IsSub() {
			t.Errorf("%s: product %q, kind %q, sub %v, want %q; %v %v", name, f.Product, f.Kind, f.IsSub(), want, f.Err, f.look)
		}
	}
}

// Binned subs are no crops, nor are a few of one size.
func TestBinnedSubsAreNoCrops(t *testing.T) {
	for _, c := range []struct {
		short, long int
		want        bool
	}{{800, 1600, true}, {533, 1600, true}, {799, 1599, true}, {1200, 1600, false}, {1600, 1600, false}} {
		if got := binned(c.short, c.long); got != c.want {
			t.Errorf("%d of %d: %v", c.short, c.long, got)
		}
	}
}

// White noise is not shared between pixels; a shift by part of a pixel shares it. A
// shift by a twentieth along one axis leaves next to nothing.
func TestResampledSubs(t *testing.T) {
	for _, c := range []struct {
		dx, dy float64
		want   bool
	}{{0, 0, false}, {0.5, 0.5, true}, {0.3, 0.7, true}, {0.25, 0, true}, {0.05, 0, false}} {
		sc := lightScene
		sc.seed = uint64(100 * c.dx)
		f := scanBytes(t, "a.fits", floats(shifted(sc.samples(), sceneSide, c.dx, c.dy), sceneSide, "IMAGETYP= 'Light'", "EXPTIME = 60"))
		if f.Resampled != c.want || c.want != warned(f, SharedNoise) {
			t.Errorf("shift %v, %v: resampled %v; near %v far %v", c.dx, c.dy, f.Resampled, f.look.near, f.look.far)
		}
	}
}

// One sub of a raw night that looks interpolated is a crowd of stars; a night of
// them is aligned.
func TestResampledAmongRaw(t *testing.T) {
	for _, c := range []struct{ shifted, raw, least, most int }{{1, 6, 0, 0}, {5, 1, 6, 6}, {1, 1, 0, 0}} {
		dir := t.TempDir()
		for i := range c.shifted + c.raw {
			sc := lightScene
			sc.seed = uint64(i)
			shift := 0.5
			if i >= c.shifted {
				shift = 0
			}
			writeIn(t, dir, fmt.Sprintf("sub%d.fits", i), floats(shifted(sc.samples(), sceneSide, shift, shift), sceneSide, "IMAGETYP= 'Light'", "EXPTIME = 60"))
		}
		got := 0
		for _, f := range scanDir(t, dir) {
			if f.Resampled {
				got++
			}
		}
		if got < c.least || got > c.most {
			t.Errorf("%d shifted and %d raw: %d marked, want %d to %d", c.shifted, c.raw, got, c.least, c.most)
		}
	}
}

func TestTargetFromFolder(t *testing.T) {
	dir := t.TempDir()
	light := lightScene.file("EXPTIME = 60", "IMAGETYP= 'Light'", "FILTER  = 'Ha'")
	for name := range map[string]int{
		"2024-03-20/Heron Nebula/lights/Ha/a.fits": 0, "M 33/300s/b.fits": 0, "session 2/c.fits": 0, "lights/d.fits": 0, "20240320/NGC7000/e.fits": 0,
	} {
		writeIn(t, dir, name, light)
	}
	told := func(object string) []byte {
		return lightScene.file("EXPTIME = 60", "IMAGETYP= 'Light'", "OBJECT  = '"+object+"'")
	}
	for name, object := range map[string]string{"mono/a.fits": "Tern 5", "mono/z.fits": "TERN 5", "both/1.fits": "Tern 5", "both/3.fits": "M 33", "both/5.fits": "M 33"} {
		writeIn(t, dir, name, told(object))
	}
	// At a folder's ends, and where the target changes, the pointing tells.
	at := func(dec float64, cards ...string) []byte {
		return lightScene.file(append(cards, "EXPTIME = 60", "IMAGETYP= 'Light'", "RA      = '05:35:17'", fmt.Sprintf("DEC     = %.2f", dec))...)
	}
	writeIn(t, dir, "points/0.fits", at(60.1))
	writeIn(t, dir, "points/1.fits", at(60, "OBJECT  = 'Tern 5'"))
	writeIn(t, dir, "points/2.fits", at(59.9))
	writeIn(t, dir, "points/3.fits", at(50, "OBJECT  = 'M 33'"))
	writeIn(t, dir, "points/4.fits", at(20))
	writeIn(t, dir, "mono/zz.fits", light)
	writeIn(t, dir, "mono/silent.fits", light)
	writeIn(t, dir, "both/2.fits", light)
	writeIn(t, dir, "both/4.fits", light)
	fs := byName(scanDir(t, dir))
	for name, want := range map[string]string{
		"2024-03-20/Heron Nebula/lights/Ha/a.fits": "Heron Nebula", "M 33/300s/b.fits": "M 33", "session 2/c.fits": "", "lights/d.fits": "",
		"20240320/NGC7000/e.fits": "NGC7000", "mono/a.fits": "Tern 5", "mono/silent.fits": "Tern 5", "both/2.fits": "both", "both/4.fits": "M 33",
		"points/0.fits": "Tern 5", "points/2.fits": "Tern 5", "points/4.fits": "points", "mono/zz.fits": "mono",
	} {
		if f := fs[name]; string(f.Meta.Target) != want {
			t.Errorf("%s: target %q, want %q", name, f.Meta.Target, want)
		}
	}
}

// A camera whose floats were stored as signed numbers needs its BZERO in every
// frame, the bright flat too; one whose floats are physical in none.
func TestFloatZeroIsOneCameras(t *testing.T) {
	dir := t.TempDir()
	frame := func(s scene, offset float64, cards ...string) []byte {
		var px []float64
		for _, v := range s.samples() {
			px = append(px, float64(v)+offset)
		}
		return floats(px, sceneSide, append(cards, "BZERO   = 32768")...)
	}
	bright := scene{level: 39728, noise: 150}
	writeIn(t, dir, "signed_bias.fits", frame(biasScene, 0, "IMAGETYP= 'Bias'", "INSTRUME= 'One'"))
	writeIn(t, dir, "signed_flat.fits", frame(bright, 0, "IMAGETYP= 'Flat'", "INSTRUME= 'One'"))
	writeIn(t, dir, "plain_bias.fits", frame(biasScene, 32768, "IMAGETYP= 'Bias'", "INSTRUME= 'Two'"))
	writeIn(t, dir, "plain_flat.fits", frame(bright, 32768, "IMAGETYP= 'Flat'", "INSTRUME= 'Two'"))
	for _, f := range scanDir(t, dir) {
		want := 1000.0
		if f.Kind == Flat {
			want = 39728
		}
		var im Image
		if err := f.Read(&im); err != nil {
			t.Fatal(err)
		}
		if !(math.Abs(f.look.median-want) <= 30) || !(math.Abs(float64(im.Float32(0, nil)[5])-want) <= 1000) {
			t.Errorf("%s: level %v, want %v", f.Name, f.look.median, want)
		}
	}
}

func TestCardsGivenTwice(t *testing.T) {
	f := scanBytes(t, "a.fits", lightScene.file("BZERO   = 0"))
	if !warned(f, ShapeTwice) {
		t.Errorf("%v", f.Findings)
	}
	if f = scanBytes(t, "a.fits", lightScene.file("BZERO   = 32768.0")); warned(f, ShapeTwice) {
		t.Errorf("the same twice: %v", f.Findings)
	}
}

// A sub that dusk filled to the top of its converter's range has one value and is a
// sub; other single values are none.
func TestFilledSubIsNoEmptyImage(t *testing.T) {
	for level, want := range map[float64]bool{65535: true, 65520: true, 16383: true, 65532: true, 4095: true, 255: true, 0: false, 1: false, 1000: false, 32768: false, 0.5: false} {
		if got := AtFullScale(level); got != want {
			t.Errorf("%g is at the top of a range: %v", level, got)
		}
	}
	const side = 100
	for level, want := range map[float64]Kind{1: Light, 65535. / 65536: Light, 4095. / 65535: Light, 4095. / 4096: Light, 16383. / 65536: Light,
		65535: Light, 0: Product, 0.5: Product, 0.9: Product, 1000. / 65535: Product, 1000: Product} {
		px := make([]float64, side*side)
		for i := range px {
			px[i] = level
		}
		f := scanBytes(t, "a.fits", floats(px, side, "EXPTIME = 60", "IMAGETYP= 'Light'"))
		if f.Kind != want || (want == Product) != (f.Product == EmptyImage) {
			t.Errorf("all pixels at %g: %v %q", level, f.Kind, f.Product)
		}
		if want != Light || level > 1 {
			continue
		}
		for i := range px { // a few values of parts of 1, which flags of a map are not
			px[i] -= float64(i%7/6*(1+i%2)) / 65536
		}
		if f := scanBytes(t, "a.fits", floats(px, side, "EXPTIME = 60", "IMAGETYP= 'Light'")); f.Kind != Light {
			t.Errorf("pixels within three steps of %g: %v %q", level, f.Kind, f.Product)
		}
	}
}

// A sum of subs is found by their exposures however many of them have none in the
// header; where none has, nothing is claimed.
func TestSumAmongSubsWithoutExposure(t *testing.T) {
	sub := func(exposure float64) *Frame {
		f := &Frame{Kind: Light, Meta: NoMeta()}
		f.Meta.Exposure, f.look.median = exposure, 1500
		return f
	}
	sum := sub(480)
	sum.look.median = 8 * 1500
	for unknown := 0; unknown <= 5; unknown++ {
		for _, last := range []bool{false, true} {
			var raw []*Frame
			for i := range 5 {
				exposure := 60.0
				if last && i >= 5-unknown || !last && i < unknown {
					exposure = math.NaN()
				}
				raw = append(raw, sub(exposure))
			}
			if got := sum.sumOf(raw); got != (unknown < 5) {
				t.Errorf("%d of 5 subs without exposure, the last ones %v: a sum of 8 is taken for one: %v", unknown, last, got)
			}
		}
	}
}
