package stars

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"fitsqa/internal/stats"
)

// Measurer measures one frame after another and keeps its buffers between
// them. One Measurer serves one goroutine.
type Measurer struct {
	p   plane
	f   fitter
	buf []sample
}

// maxStars is how many stars a Field keeps, the brightest.
const maxStars = 5000

// Measure measures one field of w x h pixels. data may be changed (its
// background is subtracted); NaN pixels are masked. It fails only on input that
// is no image at all; a field without stars is a Field with reasons.
func Measure(data []float32, w, h int, opt Options) (*Field, error) {
	var m Measurer
	return m.Measure(data, w, h, opt)
}

// Measure is the function Measure with reused buffers.
func (ms *Measurer) Measure(data []float32, w, h int, opt Options) (*Field, error) {
	if w <= 0 || h <= 0 || len(data) < w*h {
		return nil, errors.New("stars: no image")
	}
	p := &ms.p
	p.w, p.h, p.r = w, h, data[:w*h]
	p.green, p.gain, p.saturation = -1, opt.Gain, opt.Saturation
	field := &Field{Width: w, Height: h}
	if w < 16 || h < 16 {
		field.missing(fmt.Sprintf("a frame of %d x %d px is too small for stars", w, h))
		return field, nil
	}
	if opt.Bayer {
		p.green = greenParity(p.r, w, h)
	}
	p.mask(opt.Hot)
	if opt.Bayer {
		fillFromGreen(p.r, w, h, p.green)
	}
	cell := stats.MeshCell(w, h)
	var filled func(i int) bool
	if opt.Bayer { // what is filled in is smoother than what was measured
		filled = func(i int) bool { return !p.measured(i%w, i/w) }
	}
	p.mesh.Fit(p.r, w, h, cell, max(1, cell/20), filled)
	if !p.mesh.Any() {
		field.missing("no pixel holds a value")
		return field, nil
	}
	p.subtract()
	if math.IsInf(p.saturation, 1) || !(p.saturation > 0) {
		p.saturation = p.findSaturation()
	}
	field.sky(p)
	field.RandomNoise = p.randomNoise()
	if !(field.Noise.V > 0) {
		field.noStars("the frame has no noise, so nothing can stand out from it")
		return field, nil
	}

	s, ok := p.estimateSeeing()
	if !ok {
		s = roundSeeing(3)
	}
	list := p.catalogue(newKernel(s), s, opt.Threshold)
	if !ok && len(list) < 5 {
		// Nothing bright: perhaps broad images that no single pixel shows.
		wide := roundSeeing(9)
		if other := p.catalogue(newKernel(wide), wide, opt.Threshold); len(other) > len(list) {
			s, list = wide, other
		}
	}
	// More that is too broad than stars: the seeing was taken for too narrow, as
	// where sharp stars hardly light the pixels beside their own.
	for range 2 {
		if len(p.broad) <= len(list) || s.fwhm > 3 {
			break
		}
		wide := roundSeeing(1.35 * s.fwhm)
		wide.bright, wide.hollow = s.bright, s.hollow
		other := p.catalogue(newKernel(wide), wide, opt.Threshold)
		if len(other) <= len(list) {
			break
		}
		s, list = wide, other
	}
	field.Defocused = s.hollow >= 0.5
	field.Streaks, list = p.takeStreaks(list, s)
	ms.shapes(field, list, s, opt)
	// The first idea of the size was off: look again with the right one.
	if f := field.FWHM; f.OK() && f.N >= 3 && !field.Defocused {
		seen := math.Sqrt(f.V*f.V + sigmaToFWHM*sigmaToFWHM/12)
		if seen > 1.3*s.fwhm || seen < s.fwhm/1.3 {
			s = field.seeing(s)
			field.Streaks, list = p.takeStreaks(p.catalogue(newKernel(s), s, opt.Threshold), s)
			ms.shapes(field, list, s, opt)
		}
	}
	field.finish(list)
	field.noteSharpness(p, s)
	return field, nil
}

// seeing makes the filter from the fitted shape.
func (f *Field) seeing(old seeing) seeing {
	a := f.FWHM.V / 2 / math.Sqrt(1-f.Ellipticity.V)
	b := a * (1 - f.Ellipticity.V)
	m := moffat{}
	m.cxx, m.cxy, m.cyy = shapeMatrix(a, b, f.Angle.V)
	det := m.cxx*m.cyy - m.cxy*m.cxy
	// Half widths at half maximum to sd: over sqrt(2 ln 2); pixel 1/12 px².
	c := 1 / (2 * math.Ln2 * det)
	s := seeing{xx: m.cyy*c + 1./12, xy: -m.cxy * c, yy: m.cxx*c + 1./12, bright: old.bright, hollow: old.hollow}
	s.fwhm = sigmaToFWHM * math.Pow(s.xx*s.yy-s.xy*s.xy, 0.25)
	return s
}

// missing fills every figure with one reason.
func (f *Field) missing(why string) {
	f.Sky, f.Noise, f.RandomNoise, f.GradientPct = stats.Missing(why), stats.Missing(why), stats.Missing(why), stats.Missing(why)
	f.noStars(why)
}

// noStars fills every figure that needs stars with one reason.
func (f *Field) noStars(why string) {
	f.FWHM, f.HFD, f.Ellipticity = stats.Missing(why), stats.Missing(why), stats.Missing(why)
	f.Angle, f.Coherence = stats.Missing(why), stats.Missing(why)
}

// sky fills level, noise and gradient from the mesh.
func (f *Field) sky(p *plane) {
	var level []float64
	for c, ok := range p.mesh.Valid {
		if ok {
			level = append(level, float64(p.mesh.Level[c]))
		}
	}
	med := stats.Median(level)
	f.Noise = medianNoise(&p.mesh)
	f.Sky = stats.Known(med, f.Noise.V*1.2533/math.Sqrt(float64(len(level))*1000), len(level))
	if len(level) < 9 {
		f.GradientPct = stats.Missing("the frame is too small for a background gradient")
		return
	}
	if !(med > 0) {
		f.GradientPct = stats.Missing("the background is not above zero, so a gradient in percent means nothing")
		return
	}
	f.GradientPct = stats.Known(100*(stats.Quantile(level, 0.98)-stats.Quantile(level, 0.02))/med,
		100*f.Noise.V/math.Sqrt(1000)/med*math.Sqrt2, len(level))
}

// finish sorts and counts.
func (f *Field) finish(list []Star) {
	slices.SortStableFunc(list, func(a, b Star) int {
		switch {
		case a.Flux > b.Flux:
			return -1
		case a.Flux < b.Flux:
			return 1
		}
		return 0
	})
	f.Count = len(list)
	f.Saturated = 0
	for _, s := range list {
		if s.Saturated {
			f.Saturated++
		}
	}
	f.Stars = slices.Clone(list[:min(len(list), maxStars)])
}
