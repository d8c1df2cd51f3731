package simulated

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fitsqa/internal/stars"
)

// Sky is a catalogue of stars in a reference's pixels, with fluxes through two filters
// whose order of brightness differs.
type Sky struct {
	X, Y, Flux []float64
	other      []float64 // Flux through the other filter
}

// NewSky scatters n stars over a frame of w by h px and as far as reach px around it.
func NewSky(rng *rand.Rand, n int, reach, w, h float64) Sky {
	var s Sky
	for range n {
		s.X = append(s.X, -reach+rng.Float64()*(w+2*reach))
		s.Y = append(s.Y, -reach+rng.Float64()*(h+2*reach))
		// Numbers rise by 10^0.4 a magnitude or so (common practice, no source).
		f := 300 * math.Pow(rng.Float64(), -1.1)
		s.Flux = append(s.Flux, f)
		s.other = append(s.other, f*math.Exp(0.8*rng.NormFloat64()))
	}
	return s
}

// View is a measured field of the sky, of which no pixels are drawn: turned by degrees
// about the middle, shifted, through the other filter or not, each star surviving by
// keep(x, y).
func (s Sky) View(rng *rand.Rand, w, h int, dx, dy, degrees, transparency float64, other bool, keep func(x, y float64) bool) *stars.Field {
	f := &stars.Field{Width: w, Height: h}
	sn, cs := math.Sincos(degrees * math.Pi / 180)
	cx, cy := float64(w-1)/2, float64(h-1)/2
	for i := range s.X {
		u, v := s.X[i]-cx, s.Y[i]-cy
		x, y := cx+dx+cs*u-sn*v, cy+dy+sn*u+cs*v
		if x < 3 || y < 3 || x > float64(w-4) || y > float64(h-4) || !keep(x, y) {
			continue
		}
		flux := s.Flux[i]
		if other {
			flux = s.other[i]
		}
		const noise = 40
		flux = flux*transparency + noise*rng.NormFloat64()
		if flux < 5*noise {
			continue
		}
		err := math.Hypot(noise, math.Sqrt(flux))
		f.Stars = append(f.Stars, stars.Star{X: x + 0.05*rng.NormFloat64(), Y: y + 0.05*rng.NormFloat64(), Flux: flux, FluxErr: err, SNR: flux / err})
	}
	slices.SortFunc(f.Stars, func(a, b stars.Star) int {
		if a.Flux > b.Flux {
			return -1
		}
		return 1
	})
	f.Count = len(f.Stars)
	return f
}

// All keeps every star.
func All(x, y float64) bool { return true }

// Draws is how many draws a test takes of n: a fifth in short runs.
func Draws(n uint64) uint64 {
	if testing.Short() {
		return (n + 4) / 5
	}
	return n
}
