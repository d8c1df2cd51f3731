package demo

import (
	"math"
	"math/rand/v2"
)

// renderer holds what all frames share, and the buffers of one worker.
type renderer struct {
	*sensor
	flats  map[string][]float32 // by filter, when the subs were shot
	panels map[string][]float32 // and when the flats were

	light  []float32 // e-/s of sky and nebula, then e- of the whole signal
	points []float32 // e- of stars and streaks
	stored []uint16
}

func newRenderer(s *sensor, flats, panels map[string][]float32) *renderer {
	n := s.w * s.h
	return &renderer{sensor: s, flats: flats, panels: panels, light: make([]float32, n), points: make([]float32, n), stored: make([]uint16, n)}
}

// expose turns r.light (e-, already through the flat) into converter codes:
// dark current, particle hits, Poisson noise, read noise, rounding, clipping.
func (r *renderer) expose(tempC, exposure float64, rng *rand.Rand) []uint16 {
	r.hits(exposure, rng)
	dark := float32(exposure * r.darkFactor(tempC))
	read := r.ReadNoiseE / r.Gain
	step := float64(r.StepADU)
	for y := range r.h {
		row := r.RowNoiseADU * rng.NormFloat64()
		for x := range r.w {
			i := y*r.w + x
			mean := float64(r.light[i] + r.dark[i]*dark)
			if exposure > 0 {
				mean += exposure * r.shine[i]
			}
			noise := read * rng.NormFloat64()
			if r.noisy[i] {
				noise *= r.NoisyFactor
			}
			v := float64(r.offset[i]) + row + noise + poisson(mean, rng)/r.Gain
			r.stored[i] = uint16(step * math.Floor(min(max(v, 0), r.SaturationADU)/step+0.5))
		}
	}
	return r.stored
}

func (r *renderer) unlit(tempC, exposure float64, rng *rand.Rand) []uint16 {
	clear(r.light)
	return r.expose(tempC, exposure, rng)
}

// flat is an evenly lit frame whose mean is a fraction of saturation.
func (r *renderer) flat(filter string, level, exposure, tempC float64, rng *rand.Rand) []uint16 {
	mean := float32(level * r.FullWellE)
	for i, f := range r.panels[filter] {
		r.light[i] = mean * f
	}
	return r.expose(tempC, exposure, rng)
}

func (r *renderer) sub(s *scene, tempC float64, rng *rand.Rand) []uint16 {
	r.background(s)
	clear(r.points)
	r.drawStars(s)
	for _, t := range s.streak {
		r.drawStreak(s, t)
	}
	exposure := float32(s.Exposure)
	for i, f := range r.flats[s.Filter] {
		r.light[i] = f * (exposure*r.light[i] + r.points[i])
	}
	return r.expose(tempC, s.Exposure, rng)
}

// background fills r.light with sky and nebula in e-/s, computed at the knots
// of a mesh and bilinear in between: neither changes over a few pixels.
func (r *renderer) background(s *scene) {
	const mesh = 16
	cols, rows := (r.w-1)/mesh+2, (r.h-1)/mesh+2
	knots := make([]float32, cols*rows)
	for j := range rows {
		for i := range cols {
			knots[j*cols+i] = float32(s.glowOfSky(float64(i*mesh), float64(j*mesh), float64(r.w), float64(r.h)))
		}
	}
	line := make([]float32, cols)
	for y := range r.h {
		j, t := y/mesh, float32(y%mesh)/mesh
		for i := range line {
			a, b := knots[j*cols+i], knots[(j+1)*cols+i]
			line[i] = a + t*(b-a)
		}
		out := r.light[y*r.w : (y+1)*r.w]
		for x := range out {
			i, t := x/mesh, float32(x%mesh)/mesh
			out[x] = line[i] + t*(line[i+1]-line[i])
		}
	}
}

func (r *renderer) drawStars(s *scene) {
	noise := math.Sqrt(s.backgroundVariance(r.Camera))
	for _, st := range s.field.stars {
		im := s.image(st, r.w, r.h)
		if share := s.double.Share; share > 0 {
			twin := im
			twin.x, twin.y, twin.flux = im.x+s.double.DX, im.y+s.double.DY, share*im.flux
			im.flux *= 1 - share
			r.drawStar(s, twin, noise)
		}
		r.drawStar(s, im, noise)
		if st.spiked {
			r.drawSpikes(s, s.spikes, im)
		}
		if st.mag < 16.5 {
			r.drawHalos(s, im)
		}
	}
}

// drawHalos adds what a bright star has lost and what stands around it: of dew on the
// optics, and of ice in the air. It is as wide as an angle, and never so narrow that it
// would be a part of the star's image: drops of 20 to 100 µm scatter over far more.
func (r *renderer) drawHalos(s *scene, im image) {
	wide := func(px float64) float64 { // px before the Newtonian
		return max(px*lumen.scale()/r.scale(), min(px, 6*s.FWHM), 3*s.FWHM)
	}
	if s.dew > 0 && !s.fineDew {
		r.blob(im.x, im.y, wide(12+6*s.dew), im.flux*(math.Pow(10, 0.4*s.dew)-1))
	}
	if s.cloud.halo > 0 {
		lost := math.Pow(10, 0.4*s.cloud.extinction(im.x/float64(r.w), im.y/float64(r.h))) - 1
		r.blob(im.x, im.y, wide(20), s.cloud.halo*lost*im.flux)
	}
}

// drawStar adds one star. Its image is the sub's, stretched along the
// ellipticity vector with its area kept, and scaled by size.
func (r *renderer) drawStar(s *scene, im image, noise float64) {
	x, y, flux, size := im.x, im.y, im.flux, im.size
	e := math.Hypot(im.e2cos, im.e2sin)
	sin, cos := math.Sincos(math.Atan2(im.e2sin, im.e2cos) / 2)
	q := math.Sqrt(1 - e)
	a, b := size/q, size*q
	// Rows of the matrix that takes an offset on the frame to one in the table.
	m00, m01 := cos*cos/a+sin*sin/b, sin*cos*(1/a-1/b)
	m11 := sin*sin/a + cos*cos/b
	amplitude := float32(flux / (a * b))

	// A Moffat image falls to a tenth of the noise at this radius.
	g := coreRadius(s.FWHM)
	peak := flux * (beta - 1) / (math.Pi * g * g)
	reach := g*math.Sqrt(math.Max(math.Pow(peak/(0.1*noise), 1/beta)-1, 1)) + s.TrailPx/2 + 2
	reach = min(reach*a, s.psf.radius)
	x0, x1 := max(0, int(math.Ceil(x-reach))), min(r.w-1, int(x+reach))
	y0, y1 := max(0, int(math.Ceil(y-reach))), min(r.h-1, int(y+reach))
	for py := y0; py <= y1; py++ {
		dy := float64(py) - y
		row := r.points[py*r.w : (py+1)*r.w]
		for px := x0; px <= x1; px++ {
			dx := float64(px) - x
			row[px] += amplitude * s.psf.at(m00*dx+m01*dy, m01*dx+m11*dy)
		}
	}
}

// drawStreak adds a satellite: a line as wide as the stars, twice as bright
// at its middle as a sky that gives 4 e-/s would be in 60 s.
func (r *renderer) drawStreak(s *scene, t [4]float64) {
	const peak = 480 // e-
	length := math.Hypot(t[2]-t[0], t[3]-t[1])
	ux, uy := (t[2]-t[0])/length, (t[3]-t[1])/length
	sigma := s.FWHM / 2.3548
	for y := range r.h {
		for x := range r.w {
			d := (float64(x)-t[0])*uy - (float64(y)-t[1])*ux
			if math.Abs(d) < 5*sigma {
				r.points[y*r.w+x] += float32(peak * math.Exp(-d*d/(2*sigma*sigma)))
			}
		}
	}
}

// hits adds charged particles to r.light: short straight tracks of several
// thousand electrons.
func (r *renderer) hits(exposure float64, rng *rand.Rand) {
	area := float64(r.w*r.h) * r.PixelUM * r.PixelUM * 1e-8 // cm²
	for range int(poisson(r.HitsPerCM2S*area*exposure, rng)) {
		x, y := float64(r.w)*rng.Float64(), float64(r.h)*rng.Float64()
		sin, cos := math.Sincos(2 * math.Pi * rng.Float64())
		length, charge := 1+6*rng.ExpFloat64(), 300+1500*rng.ExpFloat64()
		for d := 0.0; d < length; d += 0.5 {
			px, py := int(x+d*cos), int(y+d*sin)
			if px >= 0 && py >= 0 && px < r.w && py < r.h {
				r.light[py*r.w+px] += float32(charge / 2)
			}
		}
	}
}
