package registration

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stars"
)

// Errors of shifts and rotation hold what these are off by: of many faint stars and few
// bright ones, whose places noise moves by 0.01 to 0.5 px, of stars that lie in one corner,
// of stars that besides all noise are off by the pixel, of fields that a third one ties. A
// rms of z is known to 6 to 10 % from so many figures; that errors of few pairs are themselves
// uncertain makes up the rest.
func TestErrorsHoldWhatIsOff(t *testing.T) {
	const w, h, turned = 1200, 800, 0.05 // px, px, degrees
	for _, c := range []struct {
		name  string
		draws uint64
		n     int
		phase float64 // px
		far   float64 // px, of the second field from the first; half as far the third
		part  float64 // of each side, with stars
	}{
		{"15 stars", 50, 15, 0, 0, 1}, {"30 stars", 50, 30, 0.02, 0, 1}, {"80 stars", 40, 80, 0, 0, 1}, {"300 stars", 30, 300, 0.05, 0, 1},
		{"in a corner", 40, 80, 0, 0, 0.4}, {"by a third field", 16, 150, 0, 1.3 * w, 1},
	} {
		var shift, turn, n float64
		for seed := range c.draws {
			rng := rand.New(rand.NewPCG(seed, 9))
			place := make([]stars.Star, int(float64(c.n)*(1+c.far/w)))
			for k := range place {
				place[k] = stars.Star{X: -c.far + rng.Float64()*(w*c.part+c.far), Y: rng.Float64() * h * c.part, SNR: 6 * math.Pow(float64(k+1)/float64(len(place)), -0.9)}
			}
			view := func(dx, degrees float64) *stars.Field {
				f := &stars.Field{Width: w, Height: h}
				f.FWHM.V = 3
				sn, cs := math.Sincos(degrees * math.Pi / 180)
				for _, s := range place {
					u, v := s.X+dx-(w-1)/2., s.Y-(h-1)/2.
					err := math.Hypot(c.phase, math.Sqrt2*3/stars.SigmaToFWHM/s.SNR)
					s.X, s.Y = (w-1)/2.+cs*u-sn*v+err*rng.NormFloat64(), (h-1)/2.+sn*u+cs*v+err*rng.NormFloat64()
					if s.X > 0 && s.Y > 0 && s.X < w-1 && s.Y < h-1 {
						f.Stars = append(f.Stars, s)
					}
				}
				return f
			}
			al := alignTo([]*stars.Field{view(0, 0), view(c.far, turned), view(c.far/2, 0)}, 0)
			a := al[1]
			if !a.Matched() {
				t.Fatalf("%s, seed %d: %v", c.name, seed, a.ShiftX.Why)
			}
			sn, cs := math.Sincos(turned * math.Pi / 180)
			x, y, z := (a.ShiftX.V-cs*c.far)/a.ShiftX.Err, (a.ShiftY.V-sn*c.far)/a.ShiftY.Err, (a.RotationDeg.V-turned)/a.RotationDeg.Err
			shift, turn, n = shift+(x*x+y*y)/2, turn+z*z, n+1
		}
		shift, turn = math.Sqrt(shift/n), math.Sqrt(turn/n)
		if !(shift > 0.8 && shift < 1.25) || !(turn > 0.8 && turn < 1.25) {
			t.Errorf("%s: rms of z of shifts %.2f, of rotation %.2f", c.name, shift, turn)
		}
	}
}
