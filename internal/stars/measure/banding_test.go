package measure

import (
	"math"
	"testing"

	"fitsqa/internal/stars/simulated"
)

// Rows, or rows and columns, that are offset at random by up to one and a half of the
// noise of pixels: no star is seen that is none, and noise and shape are those of the
// picture without offsets. Unlevelled, offsets of 0.7 in both give 34 false stars beside
// the 40, and those of 1.5 a noise of 2.25 times that of pixels.
func TestBanding(t *testing.T) {
	const w, h, sky = 480, 400, 100
	noise := math.Sqrt(sky + 9)
	for k, q := range []struct {
		by              float64 // of the noise of pixels
		columns, mosaic bool
	}{{by: 0.3}, {by: 1}, {by: 0.7, columns: true}, {by: 1.5, columns: true, mosaic: true}} {
		psf := simulated.PSF{Fwhm: 3, Beta: 3.5}
		s := simulated.NewSim(uint64(k), w, h, sky)
		places := s.Scatter(40, 25)
		for _, at := range places {
			s.Star(at[0], at[1], s.Signal(40, sky, psf), psf)
		}
		data := s.Frame()
		rows, columns := make([]float64, h), make([]float64, w)
		for y := range rows {
			rows[y] = q.by * noise * s.Rng.NormFloat64()
		}
		for x := range columns {
			if q.columns {
				columns[x] = q.by * noise * s.Rng.NormFloat64()
			}
		}
		for i := range data {
			data[i] += float32(rows[i/w] + columns[i%w])
		}
		opt := simulated.Quiet()
		opt.Bayer = q.mosaic
		var ms Measurer
		f, err := ms.Measure(data, w, h, opt)
		if err != nil {
			t.Fatal(err)
		}
		for _, st := range f.Stars {
			real := false
			for _, at := range places {
				real = real || math.Hypot(at[0]-st.X, at[1]-st.Y) < 2
			}
			if !real {
				t.Errorf("%+v: false star at %.1f,%.1f", q, st.X, st.Y)
			}
		}
		// A median of 800 pixels, or 200 of a mosaic's column, leaves 0.05 to 0.09 of the
		// noise in its line: 1 % of the noise of pixels.
		if f.Count != len(places) || !(math.Abs(f.Noise.V/noise-1) <= 0.03) || !(math.Abs(f.FWHM.V/3-1) <= 0.03) || f.Ellipticity.V > 0.02 {
			t.Errorf("%+v: %d of %d stars, noise %.3f of its own, FWHM %v, ellipticity %v", q, f.Count, len(places), f.Noise.V/noise, f.FWHM.V, f.Ellipticity.V)
		}
	}
}
