package calib

import (
	"context"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"fitsqa/internal/demo/habit"
	"fitsqa/internal/frames"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stack"
)

// biasFolder writes n bias files and scans them.
func biasFolder(t *testing.T, n int) []*frames.Frame { return jumpyFolder(t, n, 0) }

// jumpyFolder is one whose every 97th pixel is so much higher in every third frame.
func jumpyFolder(t *testing.T, n int, adu float64) []*frames.Frame {
	t.Helper()
	dir := t.TempDir()
	rng := rand.New(rand.NewPCG(1, 1))
	w, h := 300, 97
	if n > 100 {
		w = 100 // of many files each worker takes all its rows at once, at either width
	}
	for i := range n {
		noise := make([]uint16, w*h)
		for k := range noise {
			level := 1000.5 + float64(k%7)
			if k%97 == 0 && (i+k)%3 == 0 {
				level += adu
			}
			noise[k] = uint16(level + 6*rng.NormFloat64())
		}
		if hit := rng.IntN(w * h); w == 300 || i%3 == 0 { // as many of the pixels at either width
			noise[hit] = 30000
		}
		writeBias(t, filepath.Join(dir, fmt.Sprintf("bias_%03d.fits", i)), w, h, noise, 0)
	}
	fs, err := frames.Scan(context.Background(), []string{dir}, frames.DefaultScanOptions)
	if err != nil || len(fs) != n {
		t.Fatal(len(fs), err)
	}
	return fs
}

// figuresOf measures a folder's set of a kind: its figures with their errors, and
// its master.
func figuresOf(t *testing.T, fs []*frames.Frame, kind string, opt Options) (map[string][2]float64, []float32) {
	t.Helper()
	r, err := Analyse(context.Background(), frames.Sort(fs), opt)
	if err != nil {
		t.Fatal(err)
	}
	m := map[string][2]float64{}
	for _, f := range r.kind(kind)[0].Metrics() {
		m[f.Name] = [2]float64{f.Value.V, f.Value.Err}
		if !f.Value.OK() {
			m[f.Name] = [2]float64{}
		}
	}
	return m, r.analysis.masterOf(r.kind(kind)[0].Group)
}

// compareWithWholeFrames holds strips of files side by side to whole frames one
// after the other.
func compareWithWholeFrames(t *testing.T, fs []*frames.Frame, kind string, opt Options) {
	t.Helper()
	strips, master := figuresOf(t, fs, kind, opt)
	opt.Read = (*frames.Frame).Read // any read function makes it go frame by frame
	whole, want := figuresOf(t, fs, kind, opt)
	// The two judge outliers and bin single-pixel noise by estimates of the
	// noise that differ by a percent: a sample at the very edge may fall
	// either way, and a bin is 0.2 % of the noise.
	near := func(a, b [2]float64) bool {
		return a == b || abs(a[0]-b[0]) < 2e-3*abs(b[0])+1e-6
	}
	if diff := cmp.Diff(whole, strips, cmp.Comparer(near)); diff != "" {
		t.Errorf("%d frames (-whole +strips):\n%s", len(fs), diff)
	}
	differ := 0
	for i := range want {
		if abs(float64(want[i]-master[i])) > 1e-6*abs(float64(want[i])) {
			differ++
		}
	}
	if differ > len(want)/1000 {
		t.Errorf("%d frames: %d of %d pixels of the master differ", len(fs), differ, len(want))
	}
}

func TestStripsMatchWholeFrames(t *testing.T) {
	t.Parallel()
	for _, test := range []struct{ n, workers int }{{1, 2}, {2, 2}, {9, 2}, {128, 2}, {stack.SideBySide + 5, 64}} {
		if testing.Short() && test.n > 9 {
			continue
		}
		opt := DefaultOptions
		opt.Workers = test.workers
		compareWithWholeFrames(t, biasFolder(t, test.n), "bias", opt)
	}
}

// Pixels that jump are found in strips as in whole frames.
func TestJumpsInStrips(t *testing.T) {
	t.Parallel()
	fs := jumpyFolder(t, 12, 60)
	var found [2][]sensor.JumpyPixel
	for i, read := range []func(*frames.Frame, *frames.Image) error{nil, (*frames.Frame).Read} {
		opt := DefaultOptions
		opt.Read = read
		r, err := Analyse(t.Context(), frames.Sort(fs), opt)
		if err != nil {
			t.Fatal(err)
		}
		found[i] = r.analysis.cameras.Telegraph(r.kind("bias")[0].Group)
	}
	if diff := cmp.Diff(found[1], found[0], cmpopts.EquateApprox(1e-6, 0)); diff != "" {
		t.Errorf("(-whole +strips):\n%s", diff)
	}
	wrong := 0
	for _, d := range found[0] {
		if d.Index%97 != 0 {
			wrong++
		}
	}
	if n := len(found[0]) - wrong; n < 295 || wrong > 3 { // of 300; chance makes one in all pixels pass
		t.Errorf("%d of 300 that jump, %d that do not", n, wrong)
	}
}

// Flats are scaled as they pass: levels that differ, a dark and a saturated one.
func TestStripsOfFlatsMatchWholeFrames(t *testing.T) {
	t.Parallel()
	night := habit.New(habit.Camera{W: 320, H: 256, Gain: 0.8, Offset: 1000, Read: 3, Pattern: 0.8, PRNU: 0.006, Vignette: 0.15}, t.TempDir(), 50)
	shoot := func(n int, s habit.Shot) {
		if _, err := night.Series(n, s); err != nil {
			t.Fatal(err)
		}
	}
	shoot(5, habit.Shot{Kind: "Bias"})
	for _, light := range []float64{20000, 21000, 26000, 30000, 30500, 90000, 0} {
		shoot(1, habit.Shot{Kind: "Flat", Exposure: 2, Light: light, Filter: "L"})
	}
	fs, err := frames.Scan(t.Context(), []string{night.Dir}, frames.DefaultScanOptions)
	if err != nil {
		t.Fatal(err)
	}
	compareWithWholeFrames(t, fs, "flat", DefaultOptions)
}

func abs(x float64) float64 { return max(x, -x) }

// One file that fails in a series costs that file only.
func TestStripsWithAFailingFile(t *testing.T) {
	t.Parallel()
	fs := biasFolder(t, 6)
	fs[3].Path += ".gone"
	r, err := Analyse(context.Background(), frames.Sort(fs), DefaultOptions)
	if err != nil {
		t.Fatal(err)
	}
	s := r.kind("bias")[0]
	if v := s.Figure("read_noise_adu").Value; !v.OK() || v.N != 5 {
		t.Errorf("read noise %+v", v)
	}
	if w := fmt.Sprint(s.Warnings); !strings.Contains(w, "unread_left_out(file=bias_003.fits") {
		t.Errorf("warnings %q", w)
	}
}

func TestNothingCanBeRead(t *testing.T) {
	t.Parallel()
	fs := biasFolder(t, 2)
	for _, f := range fs {
		f.Path += ".gone"
	}
	r, err := Analyse(context.Background(), frames.Sort(fs), DefaultOptions)
	if err != nil {
		t.Fatal(err)
	}
	s := r.kind("bias")[0]
	if v := s.Figure("offset_adu").Value; v.OK() || v.Why.Code != sensor.NoneRead {
		t.Errorf("%+v", v)
	}
}

func TestCancelled(t *testing.T) {
	t.Parallel()
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Analyse(ctx, frames.Sort(biasFolder(t, 3)), DefaultOptions); err == nil {
		t.Error("a cancelled analysis succeeds")
	}
}

// Floating-point frames are measured as well: whole numbers as they are,
// negative ones shifted, scaled ones in steps far under the noise.
func TestFloatFrames(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name        string
		zero, scale float64
	}{{"whole numbers", 0, 1}, {"around zero", -1000, 1}, {"scaled to 1", 0, 1.0 / 65535}} {
		t.Run(test.name, func(t *testing.T) {
			c := quiet()
			c.init(70)
			c.frames(8, frames.Bias, 0, 0, 0)
			opt := DefaultOptions
			opt.Read = func(f *frames.Frame, im *frames.Image) error {
				im.Width, im.Height, im.Planes, im.U16 = c.w, c.h, 1, nil
				im.F32 = im.F32[:0]
				for _, v := range c.store[f] {
					im.F32 = append(im.F32, float32((float64(v)+test.zero)*test.scale))
				}
				return nil
			}
			r, err := Analyse(context.Background(), frames.Sort(c.made), opt)
			if err != nil {
				t.Fatal(err)
			}
			s := r.kind("bias")[0]
			within(t, s, "offset_adu", (1000+test.zero)*test.scale, 0.05*test.scale)
			within(t, s, "read_noise_adu", 6*test.scale, 0.06*test.scale)
			within(t, s, "pixel_noise_median_adu", 6*test.scale, 0.06*test.scale)
		})
	}
}

func TestColourCubeIsRefused(t *testing.T) {
	t.Parallel()
	c := quiet()
	c.init(71)
	c.frames(2, frames.Bias, 0, 0, 0)
	opt := DefaultOptions
	opt.Read = func(f *frames.Frame, im *frames.Image) error {
		*im = frames.Image{Width: c.w, Height: c.h, Planes: 3, U16: make([]uint16, 3*c.w*c.h)}
		return nil
	}
	r, err := Analyse(context.Background(), frames.Sort(c.made), opt)
	if err != nil {
		t.Fatal(err)
	}
	if w := fmt.Sprint(r.kind("bias")[0].Warnings); !strings.Contains(w, "colour cube") {
		t.Errorf("warnings %q", w)
	}
}

// A series too long to be read side by side has sums of whole frames, 20 bytes a pixel
// and the frames in hand: it is stacked where --memory has room for them, else refused.
func TestLongSeriesNeedsRoom(t *testing.T) {
	if testing.Short() {
		t.Skip("514 files; TestStripsMatchWholeFrames has series of fewer")
	}
	t.Parallel()
	dir := t.TempDir()
	const w, h, n = 40, 30, stack.SideBySide + 2
	rng := rand.New(rand.NewPCG(2, 2))
	for i := range n {
		noise := make([]uint16, w*h)
		for k := range noise {
			noise[k] = uint16(1000 + 6*rng.NormFloat64())
		}
		writeBias(t, filepath.Join(dir, fmt.Sprintf("bias_%03d.fits", i)), w, h, noise, 0)
	}
	fs, err := frames.Scan(t.Context(), []string{dir}, frames.DefaultScanOptions)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		frames int
		memory int64
		fits   bool
	}{{n, 0, true}, {n, 100 * w * h, true}, {n, 20 * w * h, false}, {stack.SideBySide, 20 * w * h, true}} {
		s, err := stack.New(t.Context(), stack.Options{Workers: 2, Memory: c.memory}).Stack(fs[:c.frames])
		if (err == nil) != c.fits || c.fits && len(s.Frames) != c.frames {
			t.Errorf("%d frames in %d bytes: %v", c.frames, c.memory, err)
		}
	}
}
