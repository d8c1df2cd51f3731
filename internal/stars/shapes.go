package stars

import (
	"math"
	"slices"

	"fitsqa/internal/stats"
)

// shapes fits profiles to the stars that allow it, measures half-flux diameters
// and fills the field's figures and map.
func (ms *Measurer) shapes(field *Field, list []Star, s seeing, opt Options) {
	p := &ms.p
	for i := range list {
		list[i].Fitted = false
	}
	chosen := p.suitable(list, s, opt.MaxFits)
	if len(chosen) == 0 {
		field.noStars("no star stands out")
		if len(list) > 0 {
			field.noStars("no star is bright, unsaturated and away from the edge")
		}
		field.Map = Map{}
		return
	}
	q := 0.3
	if !field.Defocused {
		q = ms.fitAll(list, chosen, s)
	}
	for _, i := range chosen {
		list[i].HFD = p.halfFluxDiameter(&list[i], s, q)
	}
	field.figures(list, chosen)
	field.Map = fieldMap(list, field.Width, field.Height)
}

// suitable picks stars for fitting, brightest first but spread over the field:
// unsaturated, single, of good signal and away from the edge. When the field is
// too sparse the demands are lowered step by step.
func (p *plane) suitable(list []Star, s seeing, most int) []int {
	margin := stampRadius(s) * 0.7
	order := make([]int, 0, len(list))
	for i := range list {
		order = append(order, i)
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case list[a].Flux > list[b].Flux:
			return -1
		case list[a].Flux < list[b].Flux:
			return 1
		}
		return 0
	})
	pick := func(minSNR float64, blends bool) []int {
		const side = 5
		var cells [side * side]int
		var first, rest []int
		quota := max(1, most/(side*side))
		for _, i := range order {
			st := &list[i]
			if st.Saturated || st.SNR < minSNR || st.Blended && !blends ||
				st.X < margin || st.Y < margin || st.X > float64(p.w-1)-margin || st.Y > float64(p.h-1)-margin {
				continue
			}
			if st.Peak+p.mesh.LevelAt(st.X, st.Y) > 0.9*p.saturation {
				continue
			}
			c := int(st.Y)*side/p.h*side + int(st.X)*side/p.w
			if cells[c] < quota {
				cells[c]++
				first = append(first, i)
			} else {
				rest = append(rest, i)
			}
			if len(first) == most {
				break
			}
		}
		return append(first, rest[:min(len(rest), most-len(first))]...)
	}
	var out []int
	for _, try := range []struct {
		snr    float64
		blends bool
	}{{30, false}, {15, false}, {15, true}, {6, true}} {
		out = pick(try.snr, try.blends)
		if len(out) >= 10 {
			break
		}
	}
	// The best first: the exponent is found on them.
	slices.SortStableFunc(out, func(a, b int) int {
		switch {
		case list[a].SNR > list[b].SNR:
			return -1
		case list[a].SNR < list[b].SNR:
			return 1
		}
		return 0
	})
	return out
}

// stampRadius is how far around a star the fit looks, px.
func stampRadius(s seeing) float64 {
	return 2*sigmaToFWHM*math.Sqrt(max(s.xx, s.yy)) + 2
}

// stamp collects the pixels around a star.
func (p *plane) stamp(dst []sample, x, y, radius float64) []sample {
	dst = dst[:0]
	noise := p.mesh.NoiseAt(x, y)
	w := 1 / (noise * noise)
	for j := max(0, int(math.Ceil(y-radius))); j <= min(p.h-1, int(y+radius)); j++ {
		for i := max(0, int(math.Ceil(x-radius))); i <= min(p.w-1, int(x+radius)); i++ {
			dx, dy := float64(i)-x, float64(j)-y
			if dx*dx+dy*dy > radius*radius || !p.trusted(i, j) {
				continue
			}
			v := float64(p.r[j*p.w+i])
			wt := w
			if p.gain > 0 && v > 0 {
				wt = 1 / (noise*noise + v/p.gain)
			}
			dst = append(dst, sample{float64(i), float64(j), v, wt})
		}
	}
	return dst
}

// exponents tried for a field, as q = 1/beta: from the Gaussian to beta = 2.
var exponents = []float64{qMin, 0.1, 0.2, 0.3, 0.4, 0.5}

// fitAll fits the chosen stars. The exponent is one for the field, the one that
// fits the brightest stars best: a star of moderate signal alone cannot tell
// its exponent from its width. It returns 1/beta.
func (ms *Measurer) fitAll(list []Star, chosen []int, s seeing) float64 {
	p, f := &ms.p, &ms.f
	start := seedOf(s)
	_, b, _ := start.axes()
	f.prepare(2*b, 0)
	bright := chosen[:min(len(chosen), 24)]
	q, _ := ms.exponent(list, bright, s, start)
	start.q = q
	var buf []sample
	for _, i := range chosen {
		st := &list[i]
		buf = p.stamp(buf, st.X, st.Y, stampRadius(s))
		par := start.at(st)
		chi2, _, ok := f.fit(buf, &par, false)
		if !ok {
			continue
		}
		st.accept(&par, chi2, s)
	}
	return q
}

// exponent finds the best exponent for the brightest stars and the sum of their
// chi², each star's normalised by its own best, so that one odd star does not
// decide.
func (ms *Measurer) exponent(list []Star, bright []int, s seeing, start moffat) (q, total float64) {
	p, f := &ms.p, &ms.f
	sum := make([]float64, len(exponents))
	var buf []sample
	for _, i := range bright {
		st := &list[i]
		buf = p.stamp(buf, st.X, st.Y, stampRadius(s))
		var chi [8]float64
		best := math.Inf(1)
		par := start.at(st)
		good := true
		for k, e := range exponents {
			par[7] = e
			c, _, ok := f.fit(buf, &par, false)
			if !ok {
				good = false
				break
			}
			chi[k] = c * float64(len(buf))
			best = min(best, c)
		}
		if !good {
			continue
		}
		for k := range exponents {
			sum[k] += chi[k] / max(best, 1)
		}
	}
	k := 0
	for i, v := range sum {
		if v < sum[k] {
			k = i
		}
	}
	k = min(max(k, 1), len(sum)-2)
	return vertex(exponents[k-1:k+2], sum[k-1:k+2]), sum[k]
}

// vertex is the lowest point of the parabola through three points, kept within them.
func vertex(x, y []float64) float64 {
	d1, d2 := (y[1]-y[0])/(x[1]-x[0]), (y[2]-y[1])/(x[2]-x[1])
	curve := (d2 - d1) / (x[2] - x[0])
	if !(curve > 0) {
		if y[0] < y[2] {
			return x[0]
		}
		return x[2]
	}
	v := (x[0]+x[1])/2 - d1/(2*curve)
	return min(max(v, x[0]), x[2])
}

// seedOf is the profile to start from.
func seedOf(s seeing) moffat {
	xx, yy := max(s.xx-1./12, 0.1), max(s.yy-1./12, 0.1)
	det := xx*yy - s.xy*s.xy
	if !(det > 0.005) {
		det = xx * yy
		s.xy = 0
	}
	// sd to half width at half maximum: times sqrt(2 ln 2).
	c := 1 / (2 * math.Ln2 * det)
	return moffat{cxx: yy * c, cxy: -s.xy * c, cyy: xx * c, q: 0.3}
}

// at places the profile on a star.
func (m moffat) at(st *Star) params {
	return params{st.X, st.Y, max(st.Peak, 1e-12), 0, m.cxx, m.cxy, m.cyy, m.q}
}

// accept takes over the figures of a fit, unless it wandered off.
func (st *Star) accept(par *params, chi2 float64, s seeing) {
	m := moffat{x: par[0], y: par[1], amplitude: par[2], cxx: par[4], cxy: par[5], cyy: par[6], q: par[7]}
	a, b, angle := m.axes()
	fwhm := 2 * math.Sqrt(a*b)
	if math.Hypot(m.x-st.X, m.y-st.Y) > 0.5*s.fwhm || fwhm > 3*s.fwhm || fwhm < s.fwhm/4 || b < 0.2 {
		return
	}
	st.X, st.Y = m.x, m.y
	st.Fitted = true
	st.FWHM, st.Beta, st.Ellipticity, st.Angle = fwhm, 1/m.q, 1-b/a, angle
}

// figures fills the field's medians.
func (f *Field) figures(list []Star, chosen []int) {
	var fwhm, hfd, ell []float64
	var cx, cy []float64
	for _, i := range chosen {
		st := &list[i]
		if !math.IsNaN(st.HFD) {
			hfd = append(hfd, st.HFD)
		}
		if !st.Fitted {
			continue
		}
		fwhm = append(fwhm, st.FWHM)
		ell = append(ell, st.Ellipticity)
		s, c := math.Sincos(2 * st.Angle * math.Pi / 180)
		cx, cy = append(cx, st.Ellipticity*c), append(cy, st.Ellipticity*s)
	}
	f.HFD = medianValue(hfd, "no half-flux diameter could be measured")
	if f.Defocused {
		why := "the images are rings, far out of focus: only the half-flux diameter has a meaning"
		f.FWHM, f.Ellipticity, f.Angle, f.Coherence = stats.Missing(why), stats.Missing(why), stats.Missing(why), stats.Missing(why)
		return
	}
	const why = "no star could be fitted"
	f.FWHM = medianValue(fwhm, why)
	f.Ellipticity = medianValue(ell, why)
	if len(ell) == 0 {
		f.Angle, f.Coherence = stats.Missing(why), stats.Missing(why)
		return
	}
	n := float64(len(ell))
	mx, my := stats.Mean(cx), stats.Mean(cy)
	length := math.Hypot(mx, my)
	scatter := math.Sqrt((stats.Variance(cx)+stats.Variance(cy))/2) / math.Sqrt(n)
	f.Angle = stats.Known(wrap90(math.Atan2(my, mx)*90/math.Pi), math.Min(90, 90/math.Pi*scatter/length), len(ell))
	mean := stats.Mean(ell)
	if len(ell) < 3 || !(mean > 0) {
		f.Coherence = stats.Missing("fewer than three fitted stars")
		return
	}
	f.Coherence = stats.Known(length/mean, scatter/mean, len(ell))
}

// medianValue is a median with its standard error, 1.2533 sigma over root n.
func medianValue(x []float64, why string) stats.Value {
	if len(x) == 0 {
		return stats.Missing(why)
	}
	err := math.NaN()
	if len(x) >= 3 {
		err = 1.2533141373155001 * stats.MADSigma(x) / math.Sqrt(float64(len(x)))
	}
	return stats.Known(stats.Median(x), err, len(x))
}
