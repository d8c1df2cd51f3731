package measure

import (
	"fmt"
	"math"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/photometry"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stars/simulated"
	"fitsqa/internal/stats"
)

// Knots of galaxies and nebulae, 1.7 to 4 times as wide as the stars, as bright, and
// up to twice as many, do not set the width (3 %: a knot may hide beside a star);
// those of twice a star's width and more are no stars.
func TestKnotsAreNoStars(t *testing.T) {
	t.Parallel()
	for _, knots := range []int{10, 40, 80} {
		if testing.Short() && knots != 40 {
			continue
		}
		for _, fwhm := range []float64{1.4, 2.5, 3.5, 5} {
			for _, wide := range []float64{1.7, 2.2, 3} {
				if fwhm < 2 && wide != 2.2 {
					continue // stars as sharp as hot pixels: where the knots would tell the size
				}
				t.Run(fmt.Sprintf("%d knots of %v times %v px", knots, wide, fwhm), func(t *testing.T) {
					const sky = 200
					s := simulated.NewSim(uint64(knots)+uint64(10*fwhm*wide), 640, 520, sky)
					q := simulated.PSF{Fwhm: fwhm, Beta: 3.5}
					var truth [][2]float64
					for i, at := range s.Scatter(40+knots, 16) {
						flux := s.Signal(30+4*float64(i%40), sky, q)
						if i < 40 {
							s.Star(at[0], at[1], flux, q)
							truth = append(truth, at)
							continue
						}
						size := wide * (1 + 0.5*s.Rng.Float64()) * fwhm
						s.Spot(at[0], at[1], 1.5*flux*wide*wide, size) // as high as stars or higher
					}
					f := measureSim(t, s)
					hit, extra := found(f, truth, 2)
					if !(math.Abs(f.FWHM.V/fwhm-1) < 0.03) || hit < 37 || wide > 2 && extra > max(2, knots/20) {
						t.Errorf("FWHM %v, %d of %d stars, %d false ones", f.FWHM, hit, len(truth), extra)
					}
				})
			}
		}
	}
}

// Knots two to eight times as many as the stars, from a quarter wider on, of many sizes and
// drawn out all ways, do not set the width, be they all over the field or in a galaxy.
func TestKnotsOutnumberStars(t *testing.T) {
	t.Parallel()
	for k, c := range []struct {
		fwhm, wide, span, high, spread float64
		stars, knots                   int
	}{
		{3.5, 1.25, 2, 1, 0, 30, 60}, {2.5, 1.4, 1.5, 3, 0, 30, 150}, {5, 1.6, 2, 0.5, 80, 15, 60}, {3.5, 2, 2, 3, 90, 12, 60},
		{1.8, 1.6, 1.5, 1, 0, 20, 60}, {2.5, 3, 1.5, 3, 0, 25, 200}, {3.5, 1.4, 2, 1, 70, 8, 20}, {5, 2, 1.5, 1, 0, 6, 12},
	} {
		if testing.Short() && k%2 > 0 {
			continue
		}
		const w, h, sky = 640, 480, 200
		s := simulated.NewSim(uint64(40+k), w, h, sky)
		q := simulated.PSF{Fwhm: c.fwhm, Beta: 3.5}
		for i, at := range s.Scatter(c.stars+c.knots, 14) {
			flux := s.Signal(30+4*float64(i%40), sky, q)
			if i < c.stars {
				s.Star(at[0], at[1], flux, q)
				continue
			}
			wider := c.wide * math.Pow(c.span, s.Rng.Float64())
			if c.spread > 0 {
				at = [2]float64{w/2 + c.spread*s.Rng.NormFloat64(), h/2 + c.spread*s.Rng.NormFloat64()}
			}
			s.Star(at[0], at[1], c.high*flux*wider*wider, simulated.PSF{Fwhm: wider * c.fwhm, Ellipticity: 0.4 * s.Rng.Float64(), Angle: 180 * s.Rng.Float64()})
		}
		f := measureSim(t, s)
		// 5 %: a knot hardly wider than a star may be among few.
		if !(math.Abs(f.FWHM.V/c.fwhm-1) < 0.05) {
			t.Errorf("%+v: FWHM %v", c, f.FWHM)
		}
	}
}

// Where places of a few stars are known, these tell the width among ten times as many knots, in
// a sub of any width: 5 %, as above, where by themselves they do not.
func TestKnownStarsTellTheWidth(t *testing.T) {
	t.Parallel()
	const w, h, sky, few, knots = 640, 480, 200, 4, 40
	misled := 0
	for k, fwhm := range []float64{2.5, 3.2, 5.5} {
		s := simulated.NewSim(uint64(60+k), w, h, sky)
		q := simulated.PSF{Fwhm: fwhm, Beta: 3.5}
		opt := simulated.Quiet()
		for i, at := range s.Scatter(few+knots, 20) {
			if i < few {
				s.Star(at[0], at[1], s.Signal(40+20*float64(i), sky, q), q)
				opt.Stars = append(opt.Stars, stars.Place{X: at[0], Y: at[1]})
				continue
			}
			wide := math.Hypot(fwhm, 2.5*(1+s.Rng.Float64()))
			s.Star(at[0], at[1], s.Signal(40+60*s.Rng.Float64(), sky, simulated.PSF{Fwhm: wide}), simulated.PSF{Fwhm: wide, Beta: 3.5})
		}
		known, err := Measure(s.Frame(), w, h, opt)
		if err != nil || !(math.Abs(known.FWHM.V/fwhm-1) < 0.05) {
			t.Errorf("%v px: FWHM %v by known stars, %v", fwhm, known.FWHM, err)
		}
		if alone := measureSim(t, s); !(math.Abs(alone.FWHM.V/fwhm-1) < 0.05) {
			misled++
		}
	}
	if misled == 0 {
		t.Error("no knots misled it: the test says nothing")
	}
}

// Knots without a star have no width, and none is made up.
func TestKnotsAloneHaveNoWidth(t *testing.T) {
	t.Parallel()
	s := simulated.NewSim(9, 640, 480, 200)
	for range 30 {
		q := simulated.PSF{Fwhm: 5 * math.Pow(4, s.Rng.Float64()), Ellipticity: 0.5 * s.Rng.Float64(), Angle: 180 * s.Rng.Float64()}
		s.Star(640*s.Rng.Float64(), 480*s.Rng.Float64(), s.Signal(200, 200, q), q)
	}
	if f := measureSim(t, s); f.FWHM.OK() || f.FWHM.Why.Code != stars.WidthsDisagree {
		t.Errorf("FWHM %v", f.FWHM)
	}
}

// Nor do those of 1.3 to three times a star's width set the transparency, whatever
// the seeing and the light: 0.02, the accuracy of transparencies.
func TestKnotsDoNotSetTheTransparency(t *testing.T) {
	t.Parallel()
	for _, wide := range []float64{1.3, 2, 2.7} {
		if testing.Short() && wide != 2 {
			continue
		}
		const w, h, sky, n, usual = 420, 360, 200, 45, 3.0
		place := simulated.NewSim(uint64(10*wide), w, h, sky)
		at := place.Scatter(n+50, 12)
		var size []float64 // of each place's knot, times the stars'
		for range at {
			size = append(size, wide*(1+0.5*place.Rng.Float64()))
		}
		var fields []*stars.Field
		seeing, light := []float64{2.6, 3, 3.4, 4, 3, 4.2, 2.8, 3.2}, []float64{1, 0.9, 1, 0.6, 0.5, 1, 0.75, 1}
		for k := range seeing {
			s := simulated.NewSim(300+uint64(k), w, h, sky)
			q := simulated.PSF{Fwhm: seeing[k], Beta: 3.5}
			dx, dy := 3*s.Rng.NormFloat64(), 3*s.Rng.NormFloat64()
			for i, p := range at {
				flux := light[k] * place.Signal(30+4*float64(i%n), sky, simulated.PSF{Fwhm: usual, Beta: 3.5})
				if i < n {
					s.Star(p[0]+dx, p[1]+dy, flux, q)
				} else { // a knot of its own size, blurred
					s.Spot(p[0]+dx, p[1]+dy, 1.5*flux*wide*wide, math.Hypot(math.Sqrt(size[i]*size[i]-1)*usual, seeing[k]))
				}
			}
			fields = append(fields, measureSim(t, s))
		}
		al, _ := registration.Align(fields)
		for k, l := range photometry.Transparencies(fields, al, nil) {
			if !(math.Abs(l.Ratio.V-light[k]) < 0.02) {
				t.Errorf("knots of %v times the stars, FWHM %.1f px: transparency %v, want %v", wide, seeing[k], l.Ratio, light[k])
			}
		}
	}
}

// About as many bright knots as stars, half as wide again to twice as wide: the middle of
// all sizes lies between the two kinds, and is neither's.
func TestAsManyKnotsAsStars(t *testing.T) {
	t.Parallel()
	for _, knots := range []int{22, 26, 30, 40} {
		if testing.Short() && knots != 26 {
			continue
		}
		for _, fwhm := range []float64{3.4, 4.4, 6} {
			const sky, n = 200, 26
			s := simulated.NewSim(uint64(knots)+uint64(10*fwhm), 640, 480, sky)
			q := simulated.PSF{Fwhm: fwhm, Beta: 3.5}
			for i, at := range s.Scatter(n+knots, 24) {
				flux := s.Signal(40+8*float64(i%n), sky, q)
				if i < n {
					s.Star(at[0], at[1], flux, q)
				} else {
					wide := 1.5 + 0.5*s.Rng.Float64()
					s.Spot(at[0], at[1], 1.5*flux*wide*wide, wide*fwhm)
				}
			}
			// A knot just under the limit of what passes for a star may be among them.
			if f := measureSim(t, s); !(math.Abs(f.FWHM.V/fwhm-1) < 0.03) {
				t.Errorf("%d knots, %d stars of %g px: FWHM %v", knots, n, fwhm, f.FWHM)
			}
		}
	}
}

// Stars that are up to twice as wide at one side of the field as at the other, or in its
// corners as in the middle, are all stars: what is wide there is no knot beside the sharp.
func TestFocusOverTheFieldMakesNoKnots(t *testing.T) {
	t.Parallel()
	const w, h, sky, sharpest = 900, 640, 200, 3.0
	for name, far := range map[string]func(x, y float64) float64{ // 0 at the sharpest, 1 at the widest
		"tilt":      func(x, _ float64) float64 { return x / w },
		"curvature": func(x, y float64) float64 { return (math.Pow(2*x/w-1, 2) + math.Pow(2*y/h-1, 2)) / 2 },
	} {
		for _, wider := range []float64{1.3, 2} {
			s := simulated.NewSim(7002, w, h, sky)
			var widths []float64
			for i, at := range s.Scatter(150, 20) {
				q := simulated.PSF{Fwhm: sharpest * (1 + (wider-1)*far(at[0], at[1])), Beta: 3.5}
				widths = append(widths, q.Fwhm)
				s.Star(at[0], at[1], s.Signal(40+4*float64(i%40), sky, q), q)
			}
			// The median width of those that are fitted lies within a few stars of that of all.
			f, want := measureSim(t, s), stats.Median(widths)
			if !(math.Abs(f.FWHM.V/want-1) < 0.04) || f.FWHM.N < 140 {
				t.Errorf("%s, %g times as wide: FWHM %v, want %.2f of 150", name, wider, f.FWHM, want)
			}
		}
	}
}

// The feet of a bright star's spikes, six wide images drawn out all ways, that fill their
// pixels more than the stars and lie at one place, do not set the width: they weigh more in the
// middle of all than many faint stars do. 3 %: the stars' own error.
func TestFewBrightFeetOfSpikesDoNotSetTheWidth(t *testing.T) {
	t.Parallel()
	const w, h, sky, n, fwhm = 640, 480, 200, 24, 2.4
	for seed := range uint64(4) {
		s := simulated.NewSim(71+seed, w, h, sky)
		q := simulated.PSF{Fwhm: fwhm, Beta: 3.5}
		for i, at := range s.Scatter(n, 20) {
			if math.Hypot(at[0]-w/2, at[1]-h/2) > 40 {
				s.Star(at[0], at[1], s.Signal(15+3*float64(i%16), sky, q), q)
			}
		}
		for k := range 6 {
			sin, cos := math.Sincos(float64(k) * math.Pi / 3)
			foot := simulated.PSF{Fwhm: 1.9 * fwhm, Ellipticity: 0.75, Angle: 60 * float64(k), Beta: 3.5}
			s.Star(w/2+14*cos, h/2+14*sin, s.Signal(200, sky, foot), foot)
		}
		if f := measureSim(t, s); !(math.Abs(f.FWHM.V/fwhm-1) < 0.03) {
			t.Errorf("seed %d: FWHM %v, want %v", 71+seed, f.FWHM, fwhm)
		}
	}
}
