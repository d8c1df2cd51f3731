package demo

import "math"

// scene is one sub to be rendered: its truth and what the truth does not say.
type scene struct {
	Sub
	field    *field
	band     band
	psf      *psf
	guiding  [2]float64 // ellipticity vector that guiding adds, e cos 2θ and e sin 2θ
	cloud    cloudState
	clearSky float64 // e-/s at the centre without cloud and nebula
	ambient  float64 // °C
	flipped  bool
	ra, dec  float64
	streak   [][4]float64 // from x, y to x, y
	double   Double
	cover    cover
	dew      float64 // mag that stars lose into halos
	fineDew  bool    // that are wider than the field
	spikes   *Spikes
	sensorC  float64 // °C
	setC     float64 // °C that the header tells, NaN for none
}

// cloudState is the cloud in front of the field during one sub.
type cloudState struct {
	magnitudes, uneven, glow float64
	halo                     float64       // share of the lost light that stands around the stars
	waves                    [3][3]float64 // see waves
}

// extinction is the cloud's at a point in fractions of the frame, mag.
func (c cloudState) extinction(u, v float64) float64 {
	if c.magnitudes == 0 {
		return 0
	}
	return c.magnitudes * max(0, 1+c.uneven*waves(c.waves[:], u, v))
}

// through is the cloud's transmission averaged over the field, and its sd over that.
func (s *scene) through() (mean, uneven float64) {
	if s.cloud.magnitudes == 0 {
		return 1, 0
	}
	const n = 24
	var sum, squares float64
	for j := range n {
		for i := range n {
			v := math.Pow(10, -0.4*s.cloud.extinction((float64(i)+0.5)/n, (float64(j)+0.5)/n))
			sum, squares = sum+v, squares+v*v
		}
	}
	mean = sum / (n * n)
	return mean, math.Sqrt(math.Max(0, squares/(n*n)-mean*mean)) / mean
}

// skyFactor is the sky at a point in fractions of the frame over the clear sky
// at the centre: light pollution is brighter towards one side, and clouds
// reflect it the more the more opaque they are.
func (s *scene) skyFactor(u, v float64) float64 {
	slope := 0.06*(u-0.5) + 0.04*(v-0.5)
	if s.flipped {
		slope = -slope
	}
	return (1 - s.cover.dark(u, v)) * (1 + slope) * (1 + s.cloud.glow*(1-math.Pow(10, -0.4*s.cloud.extinction(u, v))))
}
