package worth

import (
	"context"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"fitsqa/internal/calib"
	"fitsqa/internal/frames"
	"fitsqa/internal/sensor"
)

// realBench are the bench frames of a real camera, where they are at hand: bias and two
// darks of 240 and 300 s at 0 °C, one of 300 s at +10 °C, flats.
type realBench struct {
	darks      map[string][]float32 // e- above the bias, the first rows of the frame
	set        *sensor.Set          // of the 300 s dark
	gain, read float64
	rng        *rand.Rand
}

const (
	realSide = 1024
	realRows = 256
)

func newRealBench(t *testing.T) *realBench {
	t.Helper()
	const dir = "../../../shared/data/camera-b"
	if _, err := os.Stat(dir); err != nil {
		t.Skip("the real camera's frames are not here: ", err)
	}
	all, err := frames.Scan(context.Background(), []string{dir}, frames.DefaultScanOptions)
	if err != nil {
		t.Fatal(err)
	}
	var fs, biases []*frames.Frame
	for _, f := range all {
		switch name := filepath.Base(f.Name); {
		case strings.HasPrefix(name, "bias_0c") || strings.HasPrefix(name, "dark_0c_300s") || strings.HasPrefix(name, "flat"):
			fs = append(fs, f)
			if strings.HasPrefix(name, "bias_0c") && !strings.HasPrefix(name, "bias_0c_1") { // the first lies high
				biases = append(biases, f)
			}
		}
	}
	opt := calib.DefaultOptions
	opt.Maps = true
	r, err := calib.Analyse(context.Background(), frames.Sort(fs), opt)
	if err != nil {
		t.Fatal(err)
	}
	b := &realBench{darks: map[string][]float32{}, rng: rand.New(rand.NewPCG(4, 4))}
	var bias []float32
	for _, s := range r.Sets {
		switch s.Kind {
		case "dark":
			b.set = s
		case "bias":
			b.read = s.Figure("read_noise_e").Value.V
		case "camera":
			b.gain = s.Figure("gain_e_per_adu").Value.V
		}
	}
	for _, f := range biases {
		for i, v := range plane(t, f) {
			if bias == nil {
				bias = make([]float32, realSide*realRows)
			}
			bias[i] += v / float32(len(biases))
		}
	}
	for _, f := range all {
		for name, file := range map[string]string{"240": "dark_0c_240s.fit.gz", "300": "dark_0c_300s.fit.gz", "warm": "dark_10c_300s.fit.gz"} {
			if filepath.Base(f.Name) == file {
				d := plane(t, f)
				for i := range d {
					d[i] = (d[i] - bias[i]) * float32(b.gain)
				}
				b.darks[name] = d
			}
		}
	}
	return b
}

// plane is the part of a frame that is looked at, ADU.
func plane(t *testing.T, f *frames.Frame) []float32 {
	t.Helper()
	p, err := f.ReadPlane(0, nil, nil)
	if err != nil || len(p) != realSide*realSide {
		t.Fatal(f.Name, err)
	}
	return p[:realSide*realRows]
}

// seen are eight subs of a sky of 200 e- over a sensor of so much dark signal, corrected by
// a master: the pattern and the hot pixels are real, sky and read-out are not.
func (b *realBench) seen(signal, master []float32) *Seen {
	rows := make([]int, realRows)
	for y := range rows {
		rows[y] = y
	}
	s := NewSeen(realSide, realSide, rows, realRows, false)
	sub := make([]float32, len(signal))
	for range 8 {
		for i, v := range signal {
			noise := math.Sqrt(200 + math.Max(float64(v), 0) + b.read*b.read)
			sub[i] = v + 200 + float32(noise*b.rng.NormFloat64()) - master[i]
		}
		s.Add(sub, nil)
	}
	return s
}

// A real sensor's dark against another of its own darks: still valid, whatever the exposure
// it was scaled from; the warmer sensor, healed pixels and new ones are told.
func TestLibraryOfRealSensor(t *testing.T) {
	if testing.Short() {
		t.Skip("real frames")
	}
	b := newRealBench(t)
	library := b.darks["300"]
	same := make([]float32, len(library)) // from another frame of the same sensor and temperature
	for i, v := range b.darks["240"] {
		same[i] = v * 300 / 240
	}
	healed, hit := append([]float32(nil), same...), append([]float32(nil), same...)
	gone := 0
	for k, h := range b.set.Dark.Hot {
		if h.Y < realRows && k%2 == 0 {
			healed[h.Y*realSide+h.X] = healed[h.Y*realSide+h.X-1]
			gone++
		}
	}
	for i := 1000; i < len(hit); i += 120 {
		hit[i] += 3000
	}
	limit := b.read * b.read
	pattern := b.set.Figure("warm_nonuniformity_e_per_s").Value.V * 300
	// One dark of each: both frames' noise stays in what is compared, that of the shorter one grown with it.
	level := b.set.Figure("dark_current_e_per_s").Value.V * 300
	own := (level + b.read*b.read) + (level*240/300+b.read*b.read)*math.Pow(300.0/240, 2)
	for _, c := range []struct {
		name    string
		signal  []float32
		verdict Validity
	}{
		{"same sensor", same, "still valid"}, {"ten degrees warmer", b.darks["warm"], "shoot new darks"},
		{"every second hot pixel healed", healed, "shoot new darks"}, {"new hot pixels", hit, "shoot new darks"},
	} {
		l := b.seen(c.signal, library).library(b.set, "2014-02-05", 300, own, pattern, limit, 65535*b.gain)
		t.Logf("%s: %s (level %v, changed %v of %.1f)", c.name, l.Lacks.Code, l.Level, l.Changed, pattern)
		if l.Verdict != c.verdict {
			t.Errorf("%s: %q, want %q", c.name, l.Verdict, c.verdict)
		}
	}
	t.Logf("%d hot pixels of the set, %d healed", len(b.set.Dark.Hot), gone)
	// Without any dark the same subs tell the pattern that the dark has.
	bias := make([]float32, len(library))
	f := b.seen(same, bias).found(brought{known: (level*240/300 + b.read*b.read) * math.Pow(300.0/240, 2)}, limit)
	t.Logf("pattern by the subs alone %v e-, by the dark %.2f; %d hot", f.Pattern, pattern, len(f.Hot))
	// Two frames of different exposures: what grows with the exposure does so to a few percent.
	if !(math.Abs(f.Pattern.V/pattern-1) <= 0.05) {
		t.Errorf("pattern by the subs alone %v e-, by the dark %.2f", f.Pattern, pattern)
	}
}
