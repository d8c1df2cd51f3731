package demo

import (
	"math"

	"fitsqa/internal/stats"
)

// image is how one star appears in one sub.
type image struct {
	x, y         float64 // px
	flux         float64 // e- before vignetting
	size         float64 // scale of the sub's star image here
	e2cos, e2sin float64 // ellipticity vector that optics and guiding give it
}

// image places a star in the sub.
func (s *scene) image(st star, width, height int) image {
	w, h := float64(width), float64(height)
	diagonal := math.Hypot(w, h) / 2
	cx, cy := s.toFrame(st.x, st.y)
	im := image{x: cx + (w-1)/2, y: cy + (h-1)/2, size: 1 + tilt*cx/(w/2)}
	mag := st.mag + s.band.colour*st.colour + s.band.extinction*s.Airmass + s.cloud.extinction(im.x/w, im.y/h)
	mag += s.dew
	im.flux = s.band.zero * s.Exposure * math.Pow(10, -0.4*mag)
	im.flux *= 1 - s.cover.opacity(im.x/w, im.y/h)
	im.e2cos, im.e2sin = s.shape(cx/diagonal, cy/diagonal)
	if st.size > 0 { // no star
		im.size *= st.size
		im.e2cos, im.e2sin = im.e2cos+st.e2[0], im.e2sin+st.e2[1]
	}
	return im
}

// toFrame takes a point of the field to the frame, both from their centres.
func (s *scene) toFrame(x, y float64) (float64, float64) {
	sin, cos := math.Sincos(s.Rotation * math.Pi / 180)
	return cos*x - sin*y + s.ShiftX, sin*x + cos*y + s.ShiftY
}

func (s *scene) toField(x, y float64) (float64, float64) {
	sin, cos := math.Sincos(s.Rotation * math.Pi / 180)
	x, y = x-s.ShiftX, y-s.ShiftY
	return cos*x + sin*y, -sin*x + cos*y
}

// shape is the ellipticity vector at a point of the frame, x and y from the
// centre over half the diagonal: what guiding adds everywhere, and the
// mirror's coma, which points away from the axis and grows with the distance.
func (s *scene) shape(x, y float64) (c, sn float64) {
	r := math.Hypot(x, y)
	if r == 0 {
		return s.guiding[0], s.guiding[1]
	}
	e := cornerComa * r
	cos2, sin2 := (x*x-y*y)/(r*r), 2*x*y/(r*r)
	return s.guiding[0] + e*cos2, s.guiding[1] + e*sin2
}

// backgroundVariance of one pixel at the centre of the sub, e-².
func (s *scene) backgroundVariance(cam Camera) float64 {
	return (s.SkyRate+cam.Dark0*cam.darkFactor(s.sensorC))*s.Exposure + cam.ReadNoiseE*cam.ReadNoiseE
}

// survey settles the truth about the sky's level, the shapes of the images and
// how many stars there are to be found.
func (s *scene) survey(sc Scenario, cam Camera) {
	s.SkyRate = s.medianSky(sc)
	s.Noise2 = s.backgroundVariance(cam)
	// A matched filter gathers the noise of an effective area 1/∫p² =
	// pi g² (2 beta - 1)/(beta - 1)², p the Moffat profile of unit volume.
	g := coreRadius(s.FWHM)
	area := math.Pi * g * g * (2*beta - 1) / ((beta - 1) * (beta - 1))
	detectable := 5 * math.Sqrt(s.backgroundVariance(cam)*area)
	sin2, cos2 := math.Sincos(2 * s.psf.angle * math.Pi / 180)
	var sumC, sumS, sumE float64
	var sizes []float64
	for _, st := range s.field.stars {
		im := s.image(st, sc.Width, sc.Height)
		if im.x < 0 || im.y < 0 || im.x >= float64(sc.Width) || im.y >= float64(sc.Height) {
			continue
		}
		if im.flux > detectable {
			s.StarsAbove5++
		}
		if im.flux > 4*detectable && st.size == 0 { // those whose shapes can be measured
			// Ellipticities of trail and optics add as vectors; exact for small ones.
			c, sn := im.e2cos+s.psf.ellipticity*cos2, im.e2sin+s.psf.ellipticity*sin2
			sumC, sumS, sumE = sumC+c, sumS+sn, sumE+math.Hypot(c, sn)
			sizes = append(sizes, im.size)
		}
	}
	if len(sizes) == 0 {
		return
	}
	size := stats.MedianInPlace(sizes)
	s.FWHM, s.FWHMPixel = s.psf.fwhm*size, s.psf.fwhmPixel*size
	s.Ellipticity = sumE / float64(len(sizes))
	s.Coherence = math.Hypot(sumC, sumS) / sumE
	s.Angle = foldAngle(math.Atan2(sumS, sumC) * 90 / math.Pi)
}

// medianSky is the median over the frame of sky and nebula, e-/s.
func (s *scene) medianSky(sc Scenario) float64 {
	const n = 40
	w, h := float64(sc.Width), float64(sc.Height)
	levels := make([]float64, 0, n*n)
	for j := range n {
		for i := range n {
			levels = append(levels, s.glowOfSky((float64(i)+0.5)/n*w-0.5, (float64(j)+0.5)/n*h-0.5, w, h))
		}
	}
	return stats.MedianInPlace(levels)
}

func (s *scene) glowOfSky(x, y, w, h float64) float64 {
	u, v := x/w, y/h
	fx, fy := s.toField(x-(w-1)/2, y-(h-1)/2)
	through := math.Pow(10, -0.4*(s.band.extinction*s.Airmass+s.cloud.extinction(u, v)))
	return s.clearSky*s.skyFactor(u, v) + s.band.nebula*through*s.field.nebula(fx, fy)
}
