package photometry

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stars/simulated"
	"fitsqa/internal/stats"
)

// onNebula are views of one field with knots of a nebula in its middle, each of which
// one field may not show; share is what a field's seeing makes of the knots' light.
func onNebula(seed uint64, n, knots int, share func(field int) float64, shows func(field int) bool) []*stars.Field {
	const w, h = 900, 700
	rng := rand.New(rand.NewPCG(seed, 31))
	sky := simulated.NewSky(rng, n, 0, w, h)
	var places []place
	for range knots {
		places = append(places, place{300 + 250*rng.Float64(), 250 + 200*rng.Float64()})
	}
	var fields []*stars.Field
	for k := range 6 {
		f := sky.View(rng, w, h, 0, 0, 0, 1, false, simulated.All)
		f.FWHM = stats.Known(4, 0.02, 30)
		usual := stats.Median(fluxesOf(f))
		for _, p := range places {
			if !shows(k) {
				break
			}
			flux := usual * share(k) * math.Exp(0.1*rng.NormFloat64())
			f.Stars = append(f.Stars, stars.Star{X: p.x, Y: p.y, Flux: flux, FluxErr: flux / 13, SNR: 13, Blended: true, HFD: math.NaN()})
		}
		f.Count = len(f.Stars)
		fields = append(fields, f)
	}
	return fields
}

func fluxesOf(f *stars.Field) (v []float64) {
	for _, s := range f.Stars {
		v = append(v, s.Flux)
	}
	return v
}

// Knots that stand just above a nebula's noise are missing from one sub, all of them in
// the middle of the field. They are as bright as sure stars elsewhere, and yet no sure
// ones: nothing covers the field.
func TestKnotsMissingIsNoCover(t *testing.T) {
	for seed := range uint64(4) {
		fields := onNebula(seed, 80, 18, func(int) float64 { return 2.5 }, func(k int) bool { return k != 4 })
		al, _ := registration.Align(fields)
		got := Transparencies(fields, al, nil)[4]
		if !(got.Covered.V < 0.05) || !(math.Abs(got.Ratio.V-1) < 0.03) { // stars of a thirtieth each
			t.Errorf("seed %d: %v covered, light %v", seed, got.Covered, got.Ratio)
		}
	}
}

// What of a knot's light is summed goes with the seeing: knots as many as the stars do not
// make a sub darker.
func TestKnotsDoNotSetTheLight(t *testing.T) {
	for seed := range uint64(4) {
		fields := onNebula(seed, 60, 60, func(k int) float64 { return map[bool]float64{true: 2.5, false: 3.2}[k == 4] }, func(int) bool { return true })
		al, _ := registration.Align(fields)
		got := Transparencies(fields, al, nil)[4]
		if !(math.Abs(got.Ratio.V-1) < 0.03) {
			t.Errorf("seed %d: light %v", seed, got.Ratio)
		}
	}
}

// The core of a galaxy shows as a handful of images in one sub and as none in the next: that is
// one thing missing, and no cover; as many stars at places of their own are a part of the field.
func TestCoreMissingIsNoCover(t *testing.T) {
	const w, h, fwhm = 900, 700, 4
	for seed := range uint64(4) {
		for _, apart := range []float64{2 * fwhm, 20 * fwhm} {
			rng := rand.New(rand.NewPCG(seed, 53))
			sky := simulated.NewSky(rng, 14, 0, w, h)
			var fields []*stars.Field
			for k := range 6 {
				f := sky.View(rng, w, h, 0, 0, 0, 1, false, simulated.All)
				f.FWHM = stats.Known(fwhm, 0.02, 14)
				flux := 3 * stats.Median(fluxesOf(f))
				for i := range 5 {
					if k != 4 {
						sin, cos := math.Sincos(float64(i) * 2 * math.Pi / 4)
						if i == 4 {
							sin, cos = 0, 0
						}
						f.Stars = append(f.Stars, stars.Star{X: w/2 + apart*cos, Y: h/2 + apart*sin, Flux: flux, FluxErr: flux / 60, SNR: 60, HFD: math.NaN()})
					}
				}
				f.Count = len(f.Stars)
				fields = append(fields, f)
			}
			al, _ := registration.Align(fields)
			got := Transparencies(fields, al, nil)[4]
			if core := apart < 3*fwhm; core != (got.Covered.V < 0.02) {
				t.Errorf("seed %d: %v covered for want of five images %v px apart", seed, got.Covered, apart)
			}
		}
	}
}
