package demo

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// Double puts a share of every star's light beside it: the mount jumped during
// the sub, or the dither had not settled when it began.
type Double struct {
	Span
	Share  float64 // of the light
	DX, DY float64 // px
}

// Cover hides a part of the field from a run of subs.
type Cover struct {
	Span
	Fraction float64 // of the field, at the last sub
	Grows    bool    // from nothing at the first
	Angle    float64 // degrees, of the direction from which it comes
	Frost    bool    // in patches that rest on the sensor's window and scatter a part of the light; else a tree or roof at one side
}

// Dew settles on the optics over a run of subs: stars lose light into halos,
// the sky stays as bright.
type Dew struct {
	Span
	Magnitudes float64 // that the stars have lost at the last sub
	Steps      int     // in which it settles; 0: little by little
	Fine       bool    // drops so fine that the halos are wider than the field
}

// settled is how much of it lies there when so much of its time is over.
func (d Dew) settled(f float64) float64 {
	if d.Steps == 0 {
		return f
	}
	return math.Ceil(f*float64(d.Steps)) / float64(d.Steps)
}

// Spikes are the diffraction images of the brightest stars.
type Spikes struct {
	Stars  int       // so many get them, of magnitude 8 on, half a magnitude fainter each
	Share  float64   // of the star's light in all spikes
	Angles []float64 // degrees, both ways
	Length float64   // px, over which a spike falls to 1/e
	Ghost  bool      // a faint disc beside each as well
}

// Cooling is a sensor without regulation, or one that does not reach its set point.
type Cooling struct {
	FromC, ToC float64 // sensor temperature of the first and the last sub
	SetC       float64 // what the header says was set; NaN: nothing
}

// cover is what hides a part of the field in one sub.
type cover struct {
	fraction, angle float64
	frost           bool
	waves           [5][3]float64 // wave numbers and phase of the frost's patches
	edge            float64       // where the cover begins: along its direction, or of the waves' sum
}

// skyLeft of a tree or roof is what the town lights on it, as a share of the sky;
// frostLeft what frost scatters of the sky that it hides.
const skyLeft, frostLeft = 0.35, 0.7

// dark is how much of the sky's light is taken at a point in fractions of the frame.
func (c *cover) dark(u, v float64) float64 {
	if c.frost {
		return (1 - frostLeft) * c.opacity(u, v)
	}
	return (1 - skyLeft) * c.opacity(u, v)
}

// opacity is how much of a star's light is taken at a point in fractions of the
// frame. What is near the telescope has soft edges.
func (c *cover) opacity(u, v float64) float64 {
	if c.fraction <= 0 {
		return 0
	}
	if c.frost {
		return 0.95 / (1 + math.Exp(-6*(waves(c.waves[:], u, v)-c.edge)))
	}
	sin, cos := math.Sincos(c.angle * math.Pi / 180)
	reach := (math.Abs(cos) + math.Abs(sin)) / 2
	d := ((u-0.5)*cos + (v-0.5)*sin) / reach // -1 to 1
	return 0.97 / (1 + math.Exp(-30*(d-c.edge)))
}

// rest draws where the frost's patches rest on the sensor: they stay there from sub to sub,
// and grow from the same middles.
func (c *cover) rest(rng *rand.Rand) {
	for k := range c.waves {
		c.waves[k] = [3]float64{1.5 * rng.NormFloat64(), 1.5 * rng.NormFloat64(), 2 * math.Pi * rng.Float64()}
	}
}

// settle finds the edge for the fraction of the field that is to be opaque.
func (c *cover) settle() {
	lo, hi := -6.0, 6.0
	for range 40 {
		c.edge = (lo + hi) / 2
		if c.mean() > c.fraction {
			lo = c.edge
		} else {
			hi = c.edge
		}
	}
}

func (c *cover) mean() float64 {
	const n = 24
	var sum float64
	for j := range n {
		for i := range n {
			sum += c.opacity((float64(i)+0.5)/n, (float64(j)+0.5)/n)
		}
	}
	return sum / (n * n)
}

// trouble fills what befalls a sub beside cloud, trail and defocus. What it draws is
// from sources of their own, so that it leaves all else as it was.
func (s *scene) trouble(sc Scenario, i int) {
	for _, d := range sc.Doubles {
		if _, in := d.fraction(i); in {
			s.double = d
			s.DoubleShare, s.DoublePx = d.Share, math.Hypot(d.DX, d.DY)
		}
	}
	for k, c := range sc.Covers {
		f, in := c.fraction(i)
		if !in {
			continue
		}
		if !c.Grows {
			f = 1
		}
		s.cover = cover{fraction: c.Fraction * f, angle: c.Angle, frost: c.Frost}
		s.cover.rest(source(sc.Seed, fmt.Sprint("cover ", k)))
		s.cover.settle()
		s.Covered, s.Frosted = s.cover.mean(), c.Frost
	}
	for _, d := range sc.Dews {
		if f, in := d.fraction(i); in {
			s.dew, s.fineDew = d.Magnitudes*d.settled(f), d.Fine
			s.Dewed = 1 - math.Pow(10, -0.4*s.dew)
		}
	}
	s.sensorC = coldC
	s.setC = coldC
	if c := sc.Sensor; c != nil {
		f := float64(i) / math.Max(1, float64(sc.subs()-1))
		s.sensorC, s.setC = c.FromC+(c.ToC-c.FromC)*f, c.SetC
	}
}

// drawSpikes adds the spikes and the ghost of a bright star: beads along lines,
// as the colours of a band leave them.
func (r *renderer) drawSpikes(s *scene, sp *Spikes, im image) {
	per := im.flux * sp.Share / float64(2*len(sp.Angles)) / sp.Length
	sigma := s.FWHM / 2.3548
	for _, a := range sp.Angles {
		for _, way := range []float64{1, -1} {
			sin, cos := math.Sincos(a * math.Pi / 180)
			for d := s.FWHM; d < 5*sp.Length; d += 0.5 {
				bead := 1 + 0.7*math.Cos(2*math.Pi*d/(0.35*sp.Length))
				r.blob(im.x+way*d*cos, im.y+way*d*sin, sigma, 0.5*per*bead*math.Exp(-d/sp.Length))
			}
		}
	}
	if sp.Ghost {
		r.disc(im.x+0.11*float64(r.w), im.y-0.07*float64(r.h), 22, 0.004*im.flux)
	}
}

// blob adds a Gaussian of so many e-.
func (r *renderer) blob(x, y, sigma, flux float64) {
	reach := 4 * sigma
	peak := flux / (2 * math.Pi * sigma * sigma)
	for py := max(0, int(y-reach)); py <= min(r.h-1, int(y+reach)); py++ {
		for px := max(0, int(x-reach)); px <= min(r.w-1, int(x+reach)); px++ {
			dx, dy := float64(px)-x, float64(py)-y
			r.points[py*r.w+px] += float32(peak * math.Exp(-(dx*dx+dy*dy)/(2*sigma*sigma)))
		}
	}
}

// disc adds an even disc of so many e-.
func (r *renderer) disc(x, y, radius, flux float64) {
	level := float32(flux / (math.Pi * radius * radius))
	for py := max(0, int(y-radius)); py <= min(r.h-1, int(y+radius)); py++ {
		for px := max(0, int(x-radius)); px <= min(r.w-1, int(x+radius)); px++ {
			if math.Hypot(float64(px)-x, float64(py)-y) < radius {
				r.points[py*r.w+px] += level
			}
		}
	}
}

// colourOf the mosaic's pixel: how much of the light its filter passes.
func colourOf(pattern string, x, y int) float32 {
	if pattern == "" {
		return 1
	}
	return map[byte]float32{'R': 0.45, 'G': 1, 'B': 0.6}[pattern[2*(y%2)+x%2]]
}
