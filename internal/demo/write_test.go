package demo

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/astrogo/fitsio"
	"github.com/google/go-cmp/cmp"
)

// tiny is a night of a few small frames of every kind.
func tiny() Scenario {
	sc := small("tiny", "", 5, Block{Filter: "L", Exposure: 60, Subs: 3}, Block{Filter: "Ha", Exposure: 180, Subs: 2})
	sc.Width, sc.Height, sc.Bias, sc.Stars = 200, 160, 3, 60
	sc.Clouds = []Cloud{{Span: Span{1, 1}, Magnitudes: 2, Uneven: 0.3, Glow: 1}}
	sc.Trails = []Trail{{Span{4, 4}, 8, 20}}
	sc.Streaks = []int{0}
	sc.Flip = 2
	return sc
}

func TestWriteMakesEveryFrameAndTheTruthBeside(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "night")
	sc := tiny()
	var last, total int
	truth, err := Write(context.Background(), dir, sc, func(d, n int) { last, total = d, n })
	if err != nil {
		t.Fatal(err)
	}
	var files []string
	err = filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if !d.IsDir() {
			rel, _ := filepath.Rel(dir, path)
			files = append(files, filepath.ToSlash(rel))
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if want := 3 + 4 + 2*2*2 + 5; len(files) != want || truth.Frames != want || last != want || total != want {
		t.Errorf("%d files, %d in the truth, progress %d of %d; want %d", len(files), truth.Frames, last, total, want)
	}
	for _, s := range truth.Subs {
		if !slices.Contains(files, s.File) {
			t.Errorf("no file %s", s.File)
		}
	}
	text, err := os.ReadFile(TruthPath(dir))
	if err != nil {
		t.Fatal(err)
	}
	var read Truth
	if err := json.Unmarshal(text, &read); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(*truth, read); d != "" {
		t.Errorf("truth file differs: %s", d)
	}
	if entries, _ := os.ReadDir(filepath.Dir(dir)); len(entries) != 2 {
		t.Errorf("left behind: %v", entries)
	}
}

// The same scenario gives the same bytes, whatever order the workers take.
func TestSameSeedSameBytes(t *testing.T) {
	read := func(seed uint64) [][]byte {
		sc := tiny()
		sc.Seed = seed
		dir := filepath.Join(t.TempDir(), "night")
		if _, err := Write(context.Background(), dir, sc, nil); err != nil {
			t.Fatal(err)
		}
		var all [][]byte
		filepath.WalkDir(dir, func(path string, d fs.DirEntry, _ error) error {
			if !d.IsDir() {
				b, _ := os.ReadFile(path)
				all = append(all, b)
			}
			return nil
		})
		return all
	}
	a, b, other := read(5), read(5), read(6)
	for i := range a {
		if !bytes.Equal(a[i], b[i]) {
			t.Errorf("file %d differs", i)
		}
		if bytes.Equal(a[i], other[i]) {
			t.Errorf("file %d is the same for another seed", i)
		}
	}
}

func TestWriteTouchesNothingThatIsThere(t *testing.T) {
	ctx := context.Background()
	full := t.TempDir()
	if err := os.WriteFile(filepath.Join(full, "mine.fits"), []byte("x"), 0o666); err != nil {
		t.Fatal(err)
	}
	if _, err := Write(ctx, full, tiny(), nil); err == nil {
		t.Error("wrote into a folder that holds a file")
	}
	night := filepath.Join(t.TempDir(), "night")
	if err := os.WriteFile(TruthPath(night), []byte("x"), 0o666); err != nil {
		t.Fatal(err)
	}
	if _, err := Write(ctx, night, tiny(), nil); err == nil {
		t.Error("overwrote a truth file")
	}
	empty := t.TempDir()
	if _, err := Write(ctx, empty, tiny(), nil); err != nil {
		t.Errorf("an empty folder: %v", err)
	}
}

func TestInterruptedWriteLeavesNothing(t *testing.T) {
	parent := t.TempDir()
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	_, err := Write(ctx, filepath.Join(parent, "night"), tiny(), func(done, _ int) {
		if done == 3 {
			cancel()
		}
	})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("error %v", err)
	}
	if entries, _ := os.ReadDir(parent); len(entries) != 0 {
		t.Errorf("left behind: %v", entries)
	}
}

// FITS Standard 4.0: [0, 1, 32767, 32768, 65534, 65535] are stored, with BZERO
// 32768, as 80 00 80 01 ff ff 00 00 7f fe 7f ff; blocks are of 2880 bytes.
func TestEncodeUnsignedSamples(t *testing.T) {
	var b bytes.Buffer
	cards := []fitsio.Card{{Name: "EXPTIME", Value: 60.0}}
	if err := encode(&b, 3, 2, []uint16{0, 1, 32767, 32768, 65534, 65535}, cards); err != nil {
		t.Fatal(err)
	}
	if b.Len() != 2*2880 {
		t.Fatalf("%d bytes", b.Len())
	}
	want := []byte{0x80, 0, 0x80, 1, 0xff, 0xff, 0, 0, 0x7f, 0xfe, 0x7f, 0xff}
	if got := b.Bytes()[2880:][:12]; !bytes.Equal(got, want) {
		t.Errorf("stored % x, want % x", got, want)
	}
	for _, v := range b.Bytes()[2880+12:] {
		if v != 0 {
			t.Fatal("padding is not zero")
		}
	}
}

func TestSexagesimal(t *testing.T) {
	if got := sexagesimal(85.0/15, "%s%02d %02d %05.2f", ""); got != "05 40 00.00" {
		t.Error(got)
	}
	if got := sexagesimal(23.2, "%s%02d %02d %05.2f", ""); got != "23 12 00.00" {
		t.Error(got)
	}
	if got := sexagesimal(-5.391111, "%s%02d %02d %04.1f", "+"); got != "-05 23 28.0" {
		t.Error(got)
	}
	if got := sexagesimal(-0.5, "%s%02d %02d %04.1f", "+"); got != "-00 30 00.0" {
		t.Error(got)
	}
}

// One sub measured the slow way: the light of an isolated bright star, the sky
// and the noise come out as the truth says.
func TestSubHoldsWhatTheTruthSays(t *testing.T) {
	sc := tiny()
	sc.Width, sc.Height, sc.Stars, sc.Clouds = 256, 256, 0, nil
	sc.Targets = []Target{{Name: "one star", RA: 85, Dec: 24}}
	s := newSensor(lumen, sc.Width, sc.Height, 1)
	flats := map[string][]float32{"L": s.flatField("L", 1, [2]float64{}), "Ha": s.flatField("Ha", 1, [2]float64{})}
	one := scenes(sc, s.Camera)[1]
	one.field.stars = []star{{x: 3.3, y: -2.7, mag: 14}}
	pixels := newRenderer(s, flats, flats).sub(one, coldC, source(1, "one"))

	// Electrons over the flat, without offset and dark current, per pixel.
	dark := 60 * s.darkFactor(coldC)
	e := func(x, y int) float64 {
		i := y*sc.Width + x
		return ((float64(pixels[i])-float64(s.offset[i]))*s.Gain - dark*float64(s.dark[i])) / float64(flats["L"][i])
	}
	im := one.image(one.field.stars[0], sc.Width, sc.Height)
	var sky, n, star float64
	for y := range sc.Height {
		for x := range sc.Width {
			r := math.Hypot(float64(x)-im.x, float64(y)-im.y)
			if r > 40 && r < 70 {
				sky, n = sky+e(x, y), n+1
			}
		}
	}
	sky /= n
	for y := range sc.Height {
		for x := range sc.Width {
			if math.Hypot(float64(x)-im.x, float64(y)-im.y) < 20 {
				star += e(x, y) - sky
			}
		}
	}
	// Light pollution slopes by up to 5 % over the frame, little this near the centre.
	if want := one.clearSky * 60; !(math.Abs(sky/want-1) <= 0.01) {
		t.Errorf("sky %.1f e-, want %.1f", sky, want)
	}
	want := 4.5e8 * 60 * math.Pow(10, -0.4*(14+0.2*one.Airmass))
	// Noise of 1250 sky pixels is 560 e-, the light outside 20 px 0.1 %.
	if !(math.Abs(star-want) <= 4*560+0.004*want) {
		t.Errorf("star %.0f e-, want %.0f", star, want)
	}
}
