package figures

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stars"
)

// fieldOf has n stars drawn out by e, each along its own radius or all one way, with the
// errors of faint stars.
func fieldOf(n int, e, noise float64, radial bool, rng *rand.Rand) stars.Field {
	var list []stars.Star
	for range n {
		turn := 0.0
		if radial {
			turn = 2 * math.Pi * rng.Float64()
		}
		x, y := e*math.Cos(2*turn)+noise*rng.NormFloat64(), e*math.Sin(2*turn)+noise*rng.NormFloat64()
		list = append(list, stars.Star{Fitted: true, FWHM: 4, FWHMErr: 0.1, HFD: math.NaN(),
			Ellipticity: math.Hypot(x, y), Angle: math.Atan2(y, x) * 90 / math.Pi, ShapeErr: noise})
	}
	var f stars.Field
	Fill(&f, list)
	return f
}

// However few the stars and whichever way they point, the mean length of their vectors
// lies within three of the errors stated.
func TestEllipticityOfFewStars(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 8))
	for _, n := range []int{12, 21, 50, 150} {
		for _, e := range []float64{0.03, 0.055, 0.1, 0.3} {
			for _, radial := range []bool{false, true} {
				const draws = 100
				off := 0
				for range draws {
					if f := fieldOf(n, e, 0.06, radial, rng); !(math.Abs(f.Ellipticity.V-e) < 3*f.Ellipticity.Err) {
						off++
					}
				}
				if off > draws*5/100 {
					t.Errorf("%d stars, %g, along the radius %v: off by three errors in %d of %d", n, e, radial, off, draws)
				}
			}
		}
	}
}
