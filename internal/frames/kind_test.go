package frames

import (
	"cmp"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"fitsqa/internal/fact"
)

// sceneSide is the side of the synthetic frames, px.
const sceneSide = 400

// scene is a synthetic frame in unsigned 16 bits with the BZERO convention:
// level and noise in ADU, hot single pixels, round stars of a sigma in px.
type scene struct {
	level, noise float64
	hot, stars   int
	vignetting   float64    // share lost in the corners
	colour       [4]float64 // factors of the four mosaic phases; zero is 1
	sigma        float64    // of the stars, px; zero is 1.6
	seed         uint64
}

func (s scene) samples() []int16 {
	rng := rand.New(rand.NewPCG(s.seed, 9))
	const n = sceneSide
	sky := make([]float64, n*n)
	sigma := cmp.Or(s.sigma, 1.6)
	for range s.stars {
		cx, cy, peak := rng.Float64()*n, rng.Float64()*n, 20*s.noise*(1+5*rng.Float64())
		for y := max(0, int(cy)-8); y < min(n, int(cy)+9); y++ {
			for x := max(0, int(cx)-8); x < min(n, int(cx)+9); x++ {
				r2 := (float64(x)-cx)*(float64(x)-cx) + (float64(y)-cy)*(float64(y)-cy)
				sky[y*n+x] += peak * math.Exp(-r2/(2*sigma*sigma))
			}
		}
	}
	for range s.hot {
		sky[rng.IntN(n*n)] += 100 * s.noise
	}
	px := make([]int16, n*n)
	for i := range px {
		x, y := i%n, i/n
		r2 := (float64(x-n/2)*float64(x-n/2) + float64(y-n/2)*float64(y-n/2)) / (n * n / 2)
		f := s.colour[y&1*2+x&1]
		if f == 0 {
			f = 1
		}
		v := (s.level+sky[i])*(1-s.vignetting*r2)*f + s.noise*rng.NormFloat64()
		px[i] = int16(math.Round(min(max(v, 0), 65535)) - 32768)
	}
	return px
}

func (s scene) file(more ...string) []byte {
	return fits(16, []int{sceneSide, sceneSide}, s.samples(), append(more, "BZERO   = 32768")...)
}

var (
	biasScene  = scene{level: 1000, noise: 5}
	darkScene  = scene{level: 1010, noise: 6, hot: 800}
	flatScene  = scene{level: 25000, noise: 150, vignetting: 0.3}
	lightScene = scene{level: 1800, noise: 25, stars: 120, hot: 300}
)

func TestKinds(t *testing.T) {
	for _, tc := range []struct {
		what   string
		name   string
		file   []byte
		kind   Kind
		source KindSource
		warns  fact.Code // "" for none
	}{
		{"header", "a.fits", biasScene.file("IMAGETYP= 'Bias Frame'", "EXPTIME = 0"), Bias, KindFromHeader, ""},
		{"header, lower case", "a.fits", darkScene.file("IMAGETYP= 'dark'", "EXPTIME = 60"), Dark, KindFromHeader, ""},
		{"header, number", "a.fits", flatScene.file("PICTTYPE= 4"), Flat, KindFromHeader, ""},
		{"header, object", "a.fits", lightScene.file("IMAGETYP= 'object'", "EXPTIME = 60"), Light, KindFromHeader, ""},
		{"dark for flats", "a.fits", biasScene.file("IMAGETYP= 'Flat Dark'", "EXPTIME = 2"), Dark, KindFromHeader, ""},
		{"header beats folder", "flats/a.fits", darkScene.file("IMAGETYP= 'DARK'", "EXPTIME = 60"), Dark, KindFromHeader, KindByHeader},
		{"second keyword", "a.fits", darkScene.file("FRAME   = '2021-11-25T06:20:07.053'", "OBSTYPE = 'dark'", "EXPTIME = 9"), Dark, KindFromHeader, ""},
		{"folder", "Darks/set 1/a.fits", darkScene.file("EXPTIME = 60"), Dark, KindFromFolder, ""},
		{"nearest folder", "lights/FLATS_Ha/a.fits", flatScene.file("EXPTIME = 3"), Flat, KindFromFolder, ""},
		{"file name", "x/flatHa_001.fits", flatScene.file("EXPTIME = 3"), Flat, KindFromName, ""},
		{"file name, digits", "x/Dark300s.fits", darkScene.file("EXPTIME = 300"), Dark, KindFromName, ""},
		{"offset in a name is a setting", "x/m33_offset50.fits", lightScene.file("EXPTIME = 60"), Light, KindFromPixels, ""},
		{"pixels: bias", "a.fits", biasScene.file("EXPTIME = 0"), Bias, KindFromPixels, ""},
		{"pixels: dark", "a.fits", darkScene.file("EXPTIME = 60"), Dark, KindFromPixels, ""},
		{"pixels: flat", "a.fits", flatScene.file("EXPTIME = 3"), Flat, KindFromPixels, ""},
		{"pixels: light", "a.fits", lightScene.file("EXPTIME = 60"), Light, KindFromPixels, ""},
		{"pixels: neither", "a.fits", biasScene.file(), Unknown, "", ""},
		{"pixels: short dim flat", "a.fits", scene{level: 4000, noise: 20, vignetting: 0.4}.file("EXPTIME = 0.02"), Unknown, "", ""},
		{"flat called light", "flat_1.fits", flatScene.file("IMAGETYP= 'Light Frame'", "EXPTIME = 23"), Flat, KindFromName, KindByName},
		{"flat called light, by folder", "flats/1.fits", flatScene.file("IMAGETYP= 'Light Frame'", "EXPTIME = 23"), Flat, KindFromFolder, KindByName},
		{"12-bit flat called light", "flats/1.fits", scene{level: 1700, noise: 9, vignetting: 0.3}.file("IMAGETYP= 'Light Frame'", "EXPTIME = 2"), Flat, KindFromFolder, KindByName},
		{"dim flat by its name alone", "flat_V_3.fits", scene{level: 900, noise: 8, vignetting: 0.2}.file("EXPTIME = 2"), Flat, KindFromName, ""},
		{"dark called light", "darks/1.fits", darkScene.file("IMAGETYP= 'LIGHT'", "EXPTIME = 60"), Dark, KindFromFolder, KindByName},
		{"called both, with stars", "darks/1.fits", lightScene.file("IMAGETYP= 'LIGHT'", "EXPTIME = 60"), Unknown, "", KindOpen},
		{"dark nebula", "Dark Nebula 7/1.fits", lightScene.file("IMAGETYP= 'LIGHT'", "EXPTIME = 60"), Light, KindFromHeader, ""},
		{"folder of the target", "Flat Rock/1.fits", lightScene.file("IMAGETYP= 'LIGHT'", "OBJECT  = 'Flat_Rock'", "EXPTIME = 60"), Light, KindFromHeader, ""},
		{"dark site", "dark site/M33_1.fits", lightScene.file("EXPTIME = 60"), Light, KindFromPixels, ""},
		{"corrected light", "M33_dark_subtracted_1.fits", lightScene.file("IMAGETYP= 'LIGHT'", "EXPTIME = 60"), Light, KindFromHeader, ""},
		{"misspelt key", "a.fits", flatScene.file("IMAGTYP = 'Flat Field'", "EXPTIME = 3"), Flat, KindFromHeader, ""},
		{"dark of a twentieth of a second", "a.fits", biasScene.file("IMAGETYP= 'Dark'", "EXPTIME = 0.05"), Bias, KindFromHeader, DarkIsBias},
		{"light that looks like a flat", "m33.fits", flatScene.file("IMAGETYP= 'Light'", "EXPTIME = 23"), Light, KindFromHeader, LightFlat},
		{"dark with starlight", "a.fits", lightScene.file("IMAGETYP= 'Dark'", "EXPTIME = 60"), Dark, KindFromHeader, DarkStarry},
		{"bias with starlight", "a.fits", lightScene.file("IMAGETYP= 'Bias'", "EXPTIME = 0"), Bias, KindFromHeader, BiasStarry},
		{"bias of 30 s", "a.fits", biasScene.file("IMAGETYP= 'Bias'", "EXPTIME = 30"), Bias, KindFromHeader, BiasLong},
		{"dark of 0 s", "a.fits", biasScene.file("IMAGETYP= 'Dark'", "EXPTIME = 0"), Bias, KindFromHeader, DarkIsBias},
		{"dark of 0.1 s", "a.fits", biasScene.file("IMAGETYP= 'Dark'", "EXPTIME = 0.1"), Bias, KindFromHeader, DarkIsBias},
		{"dark of 0.2 s", "a.fits", biasScene.file("IMAGETYP= 'Dark'", "EXPTIME = 0.2"), Dark, KindFromHeader, ""},
	} {
		t.Run(tc.what, func(t *testing.T) {
			f := scanBytes(t, tc.name, tc.file)
			if f.Err != nil {
				t.Fatal(f.Err)
			}
			if f.Kind != tc.kind || f.KindSource != tc.source {
				t.Errorf("kind %q from %q, want %q from %q; %v", f.Kind, f.KindSource, tc.kind, tc.source, f.look)
			}
			if tc.warns == "" && len(f.Findings) > 0 || tc.warns != "" && !warned(f, tc.warns) {
				t.Errorf("warnings %v, want %q", f.Findings, tc.warns)
			}
		})
	}
}

// TestLightWithoutLight: a light no brighter than the darks.
func TestLightWithoutLight(t *testing.T) {
	dir := t.TempDir()
	writeIn(t, dir, "dark.fits", darkScene.file("IMAGETYP= 'Dark'", "EXPTIME = 60"))
	writeIn(t, dir, "cap.fits", darkScene.file("IMAGETYP= 'Light'", "EXPTIME = 60"))
	writeIn(t, dir, "sky.fits", scene{level: 1200, noise: 12}.file("IMAGETYP= 'Light'", "EXPTIME = 60"))
	fs := byName(scanDir(t, dir))
	if !warned(fs["cap.fits"], LightUnlit) {
		t.Errorf("cap.fits: %v", fs["cap.fits"].Findings)
	}
	if warned(fs["sky.fits"], LightUnlit) {
		t.Errorf("sky.fits: %v", fs["sky.fits"].Findings)
	}
}

func TestMasters(t *testing.T) {
	for what, tc := range map[string]struct {
		name  string
		cards []string
		want  bool
	}{
		"count of frames":      {"a.fits", []string{"IMAGETYP= 'Dark'", "NCOMBINE= 20"}, true},
		"one frame":            {"a.fits", []string{"IMAGETYP= 'Dark'", "NCOMBINE= 1"}, false},
		"word in the header":   {"a.fits", []string{"IMAGETYP= 'Master Dark'"}, true},
		"word in the name":     {"MasterDark_300s.fits", []string{"IMAGETYP= 'Dark'"}, true},
		"history":              {"a.fits", []string{"IMAGETYP= 'Dark'", "HISTORY Combined by average: 20 frames"}, true},
		"other history":        {"a.fits", []string{"IMAGETYP= 'Dark'", "HISTORY Saved to disk"}, false},
		"average in the name":  {"dark_average.fits", []string{"IMAGETYP= 'Dark'"}, true},
		"median of a light":    {"m33_median_1.fits", []string{"IMAGETYP= 'Light'"}, false},
		"kin of NCOMBINE":      {"a.fits", []string{"IMAGETYP= 'Flat'", "NIMAGES = 12"}, true},
		"calibrated flat":      {"a.fits", []string{"IMAGETYP= 'Flat'", "CALSTAT = 'BD'"}, true},
		"calibrated light":     {"a.fits", []string{"IMAGETYP= 'Light'", "CALSTAT = 'BDF'"}, false},
		"part of another word": {"mastering_1.fits", []string{"IMAGETYP= 'Light'"}, false},
	} {
		if f := scanBytes(t, tc.name, biasScene.file(tc.cards...)); f.Master != tc.want {
			t.Errorf("%s: master %v, want %v", what, f.Master, tc.want)
		}
	}
}

// TestColourPattern: the two green planes have one level, so pixels can refute
// a pattern that the header claims, and show one that it does not mention.
func TestColourPattern(t *testing.T) {
	mosaic := lightScene
	mosaic.colour = [4]float64{1, 0.8, 1.3, 1} // green, red, blue, green
	for _, tc := range []struct {
		what  string
		file  []byte
		want  string
		warns fact.Code
	}{
		{"right claim", mosaic.file("BAYERPAT= 'GRBG'"), "GRBG", ""},
		{"wrong claim", mosaic.file("FILTER  = 'RGGB'"), "GRBG", MosaicOther},
		{"no claim", mosaic.file(), "GRBG", MosaicUnclaimed},
		{"no mosaic", lightScene.file(), "", ""},
		{"no light to judge by", darkScene.file("IMAGETYP= 'Dark'", "BAYERPAT= 'RGGB'"), "RGGB", ""},
	} {
		f := scanBytes(t, "m33.fits", tc.file)
		if f.Meta.Bayer != tc.want || tc.warns == "" && len(f.Findings) > 0 || tc.warns != "" && !warned(f, tc.warns) {
			t.Errorf("%s: pattern %q (%v), want %q; %v", tc.what, f.Meta.Bayer, f.Findings, tc.want, f.look)
		}
	}
}

// TestKindsOfRealFrames, where they are at hand: no dark has stars, every sub
// has, flats that say Light Frame are flats.
func TestKindsOfRealFrames(t *testing.T) {
	data := "../../../shared/data"
	if _, err := os.Stat(data); err != nil {
		t.Skip("real frames are not at hand")
	}
	for _, f := range scanDir(t, filepath.Join(data, "camera-b")) {
		want := Kind(f.Name[:4])
		if f.Err != nil || f.Kind != want {
			t.Errorf("%s is a %s: %v", f.Name, f.Kind, f.Err)
		}
		if (want == Flat) != (len(f.Findings) == 1 && warned(f, KindByName)) {
			t.Errorf("%s: %v", f.Name, f.Findings)
		}
		if f.look.starry() {
			t.Errorf("%s has stars: %v", f.Name, f.look)
		}
	}
	for _, f := range scanDir(t, filepath.Join(data, "field-a")) {
		if f.Kind != Light || !f.look.starry() || f.Meta.ElectronsPerADU != 1.9 || f.Master {
			t.Errorf("%s is a %s: %v", f.Name, f.Kind, f.look)
		}
	}
	for _, f := range scanDir(t, filepath.Join(data, "mosaic")) {
		if f.Kind != Light || f.Meta.Bayer != "GRBG" {
			t.Errorf("%s is a %s of pattern %q: %v", f.Name, f.Kind, f.Meta.Bayer, f.look)
		}
	}
}
