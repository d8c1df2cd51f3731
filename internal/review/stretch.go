package review

import (
	"math"
	"sync"
)

// Stretch maps pixel values to brightness: black up to one level, white from
// another on, and between them the inverse hyperbolic sine (Lupton et al. 2004,
// PASP 116, 133) that puts middle grey at a fraction of the way. One stretch
// serves all subs of a group, so that they compare.
type Stretch struct {
	Black  float64 `json:"black"`  // units of the frame
	White  float64 `json:"white"`  // likewise
	Mid    float64 `json:"mid"`    // where middle grey lies between them, above 0 and up to 0.5, which is a straight line
	Invert bool    `json:"invert"` // stars dark on a bright sky
}

const (
	blackSigma = 2    // the black point lies this many sigma below the sky
	whiteSigma = 1000 // the white point, above it
	greySigma  = 12   // middle grey, above it
)

func (p *picture) autoStretch() Stretch {
	sky := (p.sky[0] + p.sky[1] + p.sky[2]) / 3
	noise := math.Max(p.noise[0], math.Max(p.noise[1], p.noise[2]))
	if !(noise > 0) {
		noise = math.Max(1e-3*math.Abs(sky), 1e-6)
	}
	return Stretch{Black: sky - blackSigma*noise, White: sky + whiteSigma*noise, Mid: (blackSigma + greySigma) / float64(blackSigma+whiteSigma)}
}

func (s Stretch) valid() bool {
	return s.White > s.Black && s.Mid > 0 && s.Mid <= 0.5 && !math.IsInf(s.White-s.Black, 0)
}

// curve is the brightness at steps even along black to white.
type curve [1 << 15]uint8

// toneCurve computes brightness: asinh(x/soft)/asinh(1/soft). It is 1/2 at Mid
// where 2 cosh(asinh(Mid/soft)) = 1/Mid, hence the soft below.
func (s Stretch) toneCurve() *curve {
	var c curve
	t := math.Acosh(1 / (2 * s.Mid))
	soft := s.Mid / math.Sinh(t) // +Inf at 1/2: a straight line
	for i := range c {
		x := float64(i) / float64(len(c)-1)
		y := x
		if !math.IsInf(soft, 0) {
			y = math.Asinh(x/soft) / math.Asinh(1/soft)
		}
		if s.Invert {
			y = 1 - y
		}
		c[i] = uint8(255*y + 0.5)
	}
	return &c
}

// shades turns values to brightness, after a shift of their background.
func (c *curve) shades(dst []uint8, stride int, values []float32, black, white float64) {
	scale := float32(float64(len(c)-1) / (white - black))
	low := float32(black)
	for i, v := range values {
		k := (v - low) * scale
		switch {
		case !(k > 0): // NaN too
			dst[i*stride] = c[0]
		case k >= float32(len(c)-1):
			dst[i*stride] = c[len(c)-1]
		default:
			dst[i*stride] = c[int(k)]
		}
	}
}

// lastCurve keeps the curve asked for last: all tiles of a view have the same.
type lastCurve struct {
	mu      sync.Mutex
	stretch Stretch
	curve   *curve
}

func (l *lastCurve) of(s Stretch) *curve {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.curve == nil || l.stretch != s {
		l.stretch, l.curve = s, s.toneCurve()
	}
	return l.curve
}
