package calib

import (
	"encoding/csv"
	"fmt"
	"math"
	"math/bits"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/astrogo/fitsio"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/sensor"
)

// readBack reads a written image and its header with the library alone.
func readBack(t *testing.T, path string) (*fitsio.Header, []float32) {
	t.Helper()
	in, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	f, err := fitsio.Open(in)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	img := f.HDU(0).(fitsio.Image)
	axes := img.Header().Axes()
	switch img.Header().Bitpix() {
	case 8:
		raw := make([]byte, axes[0]*axes[1])
		if err := img.Read(&raw); err != nil {
			t.Fatal(err)
		}
		out := make([]float32, len(raw))
		for i, v := range raw {
			out[i] = float32(v)
		}
		return img.Header(), out
	default:
		out := make([]float32, axes[0]*axes[1])
		if err := img.Read(&out); err != nil {
			t.Fatal(err)
		}
		return img.Header(), out
	}
}

// Masters hold the mean of their frames and say of which; defects are those of the
// camera: hot pixels and jumping ones as they were made, dead ones that the flats
// show, and no other.
func TestMastersAndDefects(t *testing.T) {
	t.Parallel()
	c := &simCamera{w: 160, h: 120, gain: 0.8, step: 1, offset: 500, read: 3, pattern: 1, prnu: 0.01, dark: 0.02, warm: 0.002,
		hotShare: 0.004, hotMin: 4, vignette: 0.2, telegraph: 0.005, fullWell: 50000}
	c.init(3)
	dead := map[int]bool{}
	for _, i := range []int{1234, 9876, 15000} {
		c.respond[i], dead[i] = 0.2, true
	}
	c.frames(24, frames.Bias, 0, -10, 0)
	c.hits(40)
	c.frames(6, frames.Dark, 120, -10, 0)
	c.frames(8, frames.Flat, 2, -10, 20000)
	for _, f := range c.made {
		f.Meta.Filter, f.Meta.Telescope = names.Name(map[bool]string{true: "Ha \u03b1"}[f.Kind == frames.Flat]), "Ünlü 200"
	}
	dir := t.TempDir()
	r := c.analyse(t, func(o *Options) { o.Masters = true })
	files, err := r.WriteMasters(dir, "fitsqa test")
	if err != nil {
		t.Fatal(err)
	}
	if len(files) != 5 {
		t.Fatalf("%q", files)
	}
	path := map[string]string{}
	for _, n := range files {
		for _, k := range []string{"bias", "dark", "flat", ".csv", "defects"} {
			if strings.Contains(n, k) {
				path[k] = filepath.Join(dir, n)
				break
			}
		}
	}
	h, px := readBack(t, path["bias"])
	if n := h.Get("NCOMBINE").Value; n != 24 {
		t.Errorf("NCOMBINE %v", n)
	}
	if u := h.Get("BUNIT").Value; u != "adu" {
		t.Errorf("BUNIT %v", u)
	}
	if g := h.Get("EGAIN").Value.(float64); !(math.Abs(g-0.8) <= 0.016) { // eight flats of 2 e4 pixels: 0.5 % a pair
		t.Errorf("gain %v", g)
	}
	// The mean of 24 frames of 3.75 ADU: 0.77; telegraph pixels and hits apart.
	off, wrong := 0.0, 0
	for i, v := range px {
		if c.jumpy[i] {
			continue
		}
		d := float64(v) - 500 - c.fixed[i]
		off += d
		if !(math.Abs(d) <= 5*0.77) {
			wrong++
		}
	}
	if off /= float64(len(px)); !(math.Abs(off) <= 0.05) || wrong > 0 {
		t.Errorf("the master bias is off by %.3f ADU, %d pixels far", off, wrong)
	}
	text, err := os.ReadFile(path["flat"])
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"IMAGETYP= 'Master Flat'", "HISTORY flat_031.fits", "HISTORY offset taken off", `'Ha \u03b1'`, `'\u00dcnl\u00fc 200'`, "EXPTIME =                    2"} {
		if !strings.Contains(string(text[:3*2880]), want) {
			t.Errorf("the flat's header has no %q", want)
		}
	}
	_, mask := readBack(t, path["defects"])
	var truth, missed, wrongly int
	for i, v := range mask {
		want := uint(0)
		if c.hot[i] {
			want |= hotBit
		}
		if dead[i] {
			want |= deadBit
		}
		if c.jumpy[i] {
			want |= telegraphBit
		}
		truth += bits.OnesCount(want)
		missed += bits.OnesCount(want &^ uint(v))
		if want&telegraphBit != 0 {
			want |= hotBit // jumps raise the darks, too
		}
		wrongly += bits.OnesCount(uint(v) &^ want)
	}
	// As of hot pixels: 97 % found, 1 % false.
	if float64(missed) > 0.03*float64(truth) || float64(wrongly) > 0.01*float64(truth) {
		t.Errorf("%d defects: %d missed, %d false", truth, missed, wrongly)
	}
	list, err := os.Open(path[".csv"])
	if err != nil {
		t.Fatal(err)
	}
	defer list.Close()
	rows, err := csv.NewReader(list).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows[1:] {
		x, _ := strconv.Atoi(row[0])
		y, _ := strconv.Atoi(row[1])
		if mask[y*160+x] == 0 {
			t.Errorf("%v is not in the mask", row)
		}
	}
	if again, err := r.WriteMasters(dir, ""); err == nil {
		t.Errorf("%q were replaced", again)
	}
}

// Darks of the flats' own exposure are taken off the flats without a word from the
// user, and take off what a bias leaves: the dark current of a warm sensor, here a
// glow of the flat's own size. So does the share of longer ones; those of another
// temperature are not used.
func TestDarksAreTakenOffFlats(t *testing.T) {
	t.Parallel()
	for _, v := range []struct {
		seconds, celsius float64
		from             fact.Code
	}{{5, 10, sensor.OffsetOfFlatDarks}, {20, 10, sensor.OffsetOfLongerDarks}, {20, 0, sensor.OffsetOfBias}} {
		c := &simCamera{w: 96, h: 64, gain: 1, step: 1, offset: 500, read: 3, dark: 5, glow: 2000}
		c.init(4)
		c.frames(6, frames.Bias, 0, 10, 0)
		c.frames(6, frames.Dark, v.seconds, v.celsius, 0)
		c.frames(6, frames.Flat, 5, 10, 8000)
		r := c.analyse(t)
		note := ""
		for _, m := range r.kind("flat")[0].Metrics() {
			if m.Name == "gain_e_per_adu" {
				note = fmt.Sprint(m.Note)
			}
		}
		m := r.analysis.masterOf(r.kind("flat")[0].Group)
		corner := float64(m[len(m)-1] / m[len(m)/2]) // evenly lit: the glow alone raises it
		if !strings.Contains(note, string(v.from)) {
			t.Errorf("darks of %g s at %g °C: %s", v.seconds, v.celsius, note)
		}
		// 8000 e- in six frames: a pixel of 0.5 %, a ratio of 0.7 %.
		if raised := corner - 1; (v.from != sensor.OffsetOfBias) != (math.Abs(raised) < 0.035) {
			t.Errorf("darks of %g s at %g °C: the corner is raised by %.3f", v.seconds, v.celsius, raised)
		}
	}
}
