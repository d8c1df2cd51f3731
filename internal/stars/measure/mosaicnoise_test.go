package measure

import (
	"math"
	"testing"

	"fitsqa/internal/stars/simulated"
)

// The noise of a colour mosaic is measured whatever the frame's size and whichever
// diagonal is green: 2 %, four times what some 5000 places leave.
func TestMosaicNoiseOfEverySize(t *testing.T) {
	t.Parallel()
	for _, size := range [][2]int{{300, 200}, {400, 400}, {640, 480}, {804, 604}, {900, 640}, {960, 700}} {
		for green := range 2 {
			w, h := size[0], size[1]
			s := simulated.NewSim(uint64(w+green), w, h, 0)
			for i := range s.E {
				s.E[i] = 400
				if (i%w+i/w)&1 != green {
					s.E[i] = 100 + 500*float64(i%w&1) // red and blue differ
				}
			}
			opt := simulated.Quiet()
			opt.Bayer = true
			f, err := Measure(s.Frame(), w, h, opt)
			if err != nil {
				t.Fatal(err)
			}
			want := math.Sqrt(400 + 3*3) // sky and read noise
			if !(math.Abs(f.RandomNoise.V/want-1) < 0.02) {
				t.Errorf("%d x %d, green %d: noise %v, want %.2f", w, h, green, f.RandomNoise, want)
			}
			for k, v := range f.NoiseParts {
				if w*h > 300000 && !(math.Abs(v/want-1) < 0.1) {
					t.Errorf("%d x %d, green %d: noise %.2f in part %d, want %.2f", w, h, green, v, k, want)
				}
			}
		}
	}
}
