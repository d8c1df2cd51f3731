package measure

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"

	"fitsqa/internal/stars/simulated"
	"fitsqa/internal/stats"
)

// bound is the least standard error that ln FWHM of one star can have when all
// of its profile is unknown: the inverse of Fisher's information (Cramér 1946,
// Mathematical Methods of Statistics, ch. 32; Rao 1945, Bull. Calcutta Math.
// Soc. 37, 81), its derivatives by finite differences of the profile summed over
// 5 x 5 points a pixel, over the pixels that a fit looks at.
func bound(flux, sky, read float64, q simulated.PSF) float64 {
	const x, y, ln, e1, e2, beta, amplitude, floor = 0, 1, 2, 3, 4, 5, 6, 7
	at := [8]float64{0.2, -0.3, 0, 0, 0, 1 / q.Beta, flux, sky}
	step := [8]float64{1e-3, 1e-3, 1e-3, 1e-3, 1e-3, 1e-3, 1, 1}
	value := func(p [8]float64, i, j float64) float64 {
		// e1 and e2 squeeze along the axes and the diagonals.
		scale := math.Exp(p[ln])
		like := simulated.PSF{Fwhm: q.Fwhm, Beta: 1 / p[beta]}
		var sum float64
		for b := range 5 {
			for a := range 5 {
				dx, dy := (i+float64(a)/5-0.4-p[x])/scale, (j+float64(b)/5-0.4-p[y])/scale
				dx, dy = dx*(1+p[e1])+dy*p[e2], dy*(1-p[e1])+dx*p[e2]
				sum += like.At(dx, dy) / (scale * scale) / 25
			}
		}
		return p[floor] + p[amplitude]*sum
	}
	radius := 2*math.Sqrt(q.Fwhm*q.Fwhm+0.4) + 2
	information := mat.NewSymDense(8, nil)
	for j := -math.Floor(radius); j <= radius; j++ {
		for i := -math.Floor(radius); i <= radius; i++ {
			if math.Hypot(i, j) > radius {
				continue
			}
			var d [8]float64
			for k := range d {
				up, down := at, at
				up[k] += step[k]
				down[k] -= step[k]
				d[k] = (value(up, i, j) - value(down, i, j)) / (2 * step[k])
			}
			information.SymRankOne(information, 1/(value(at, i, j)+read*read), mat.NewVecDense(8, d[:]))
		}
	}
	var inverse mat.Dense
	if err := inverse.Inverse(information); err != nil {
		panic(err)
	}
	return math.Sqrt(inverse.At(ln, ln))
}

// The uncertainties stated are those seen: over forty fields, differences from
// the truth have a root mean square of one standard error, and round stars seem
// elongated beyond 2.5 of them, as one in twenty-three does by chance (Rayleigh
// 1880), seldom. And widths scatter by little more than noise makes inevitable:
// the median of stars costs a quarter (sqrt(pi/2)) of their own share of it.
func TestUncertainties(t *testing.T) {
	if testing.Short() {
		t.Skip("160 fields; TestWidthAccuracy holds widths to the truth")
	}
	t.Parallel()
	for _, c := range []struct {
		n        int
		snr, sky float64
		fwhm     float64
	}{
		{n: 8, snr: 40, sky: 20, fwhm: 3},
		{n: 20, snr: 60, sky: 300, fwhm: 3},
		{n: 50, snr: 60, sky: 300, fwhm: 2},
		{n: 50, snr: 60, sky: 20000, fwhm: 3},
	} {
		const fields = 40
		q := simulated.PSF{Fwhm: c.fwhm, Beta: 3.5}
		var off, pull, stated []float64
		elongated := 0
		for seed := range uint64(fields) {
			s := simulated.NewSim(seed+100, 400, 400, c.sky)
			for _, at := range s.Scatter(c.n, 24) {
				s.Star(at[0], at[1], s.Signal(c.snr, c.sky, q), q)
			}
			f := measureSim(t, s)
			off = append(off, f.FWHM.V/c.fwhm-1)
			pull = append(pull, (f.FWHM.V-c.fwhm)/f.FWHM.Err)
			stated = append(stated, f.FWHM.Err/c.fwhm)
			if f.Ellipticity.V > 2.5*f.Ellipticity.Err {
				elongated++
			}
		}
		rms := func(x []float64) float64 {
			var sum float64
			for _, v := range x {
				sum += v * v
			}
			return math.Sqrt(sum / float64(len(x)))
		}
		least := bound(simulated.NewSim(0, 1, 1, 0).Signal(c.snr, c.sky, q), c.sky, 3, q) / math.Sqrt(float64(c.n))
		// 40 fields tell a root mean square to 11 %.
		if r := rms(pull); r < 0.7 || r > 1.5 {
			t.Errorf("%+v: differences of %.2f standard errors", c, r)
		}
		if r := rms(off) / least; r > 1.5 || r < 0.75 {
			t.Errorf("%+v: scatter of %.2f %%, %.2f times the least possible", c, 100*rms(off), r)
		}
		if r := stats.Median(stated) / least; r > 1.3 || r < 0.9 {
			t.Errorf("%+v: stated %.2f %%, %.2f times the least possible", c, 100*stats.Median(stated), r)
		}
		if elongated > 6 {
			t.Errorf("%+v: %d of %d fields of round stars seem elongated", c, elongated, fields)
		}
		t.Logf("%+v: scatter %.2f %%, stated %.2f %%, bound %.2f %%, pull %.2f, elongated %d", c, 100*rms(off), 100*stats.Median(stated), 100*least, rms(pull), elongated)
	}
}

// Stars a little out of focus have flatter tops than any profile of the range: the
// width of the flattest, repeated from frame to frame, is no less certain for it.
func TestUncertaintyOfFlatTops(t *testing.T) {
	if testing.Short() {
		t.Skip("twelve fields for one scatter; TestWidthAccuracy holds widths to the truth")
	}
	t.Parallel()
	var widths, stated []float64
	for seed := range uint64(12) {
		s := simulated.NewSim(seed+7, 340, 340, 300)
		const points = 40
		for _, at := range s.Scatter(30, 26) {
			for k := range points { // evenly over a disc, as a sunflower's seeds
				sin, cos := math.Sincos(2.39996 * float64(k))
				r := 2.8 * math.Sqrt((float64(k)+0.5)/points)
				s.Spot(at[0]+r*cos, at[1]+r*sin, 40000/points, 3)
			}
		}
		f := measureSim(t, s)
		widths, stated = append(widths, f.FWHM.V), append(stated, f.FWHM.Err)
	}
	scatter := math.Sqrt(stats.Variance(widths) * 12 / 11)
	// Twelve frames tell a scatter to a fifth.
	if r := stats.Median(stated) / scatter; r > 1.7 || r < 0.5 {
		t.Errorf("stated %.4f px, seen %.4f px of %.2f", stats.Median(stated), scatter, stats.Median(widths))
	}
}
