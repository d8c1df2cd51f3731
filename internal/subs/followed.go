package subs

import (
	"math"

	"fitsqa/internal/stats"
)

// A mount that follows a comet draws the stars out on purpose, all of them alike in every
// sub, and a stack on the comet is none the worse for it. Neither the target's name nor
// trails tell of it alone, but a comet's name and a field that drifts as far along the trails
// as they are long. What the motion adds to the variance along it is then taken off each
// sub's images: what is left is the sky's, the optics' and the mount's.

// motion is what following a comet does to every star of a session.
type motion struct {
	px    float64 // how far it draws them out; 0 where none was followed
	x, y  float64 // of the squared FWHM along it less that across, times cos 2θ and sin 2θ, px²
	width float64 // FWHM of the group's sharpest quarter without it, over that with it; 1 without one
}

// drawnTimes is by how much the length that fitted shapes tell may differ from the drift's:
// profiles are not made for lines, and tell a fifth to a half more (own simulation).
const drawnTimes = 1.8

// motionOf is the comet's that the subs of a session follow.
func motionOf(mates []*evidence) motion {
	var xs, ys, across []float64
	for _, e := range mates {
		if x, y, sum, ok := e.squares(); ok {
			xs, ys, across = append(xs, x), append(ys, y), append(across, (sum-math.Hypot(x, y))/2)
		}
	}
	if !mates[0].Target.Comet() || len(xs) < minGroup {
		return motion{width: 1}
	}
	m := motion{x: stats.Median(xs), y: stats.Median(ys), width: math.Sqrt(stats.Quantile(across, 0.25)) / mates[0].base.FWHM}
	length := math.Sqrt(math.Hypot(m.x, m.y) * 12 / (8 * math.Ln2)) // a line's variance is its length squared over 12
	for _, e := range mates {
		d := e.drift()
		if along := math.Cos(2*d.angle - math.Atan2(m.y, m.x)); d.sure && along > driftAligned && length < d.px*drawnTimes && d.px < length*drawnTimes {
			m.px = d.px
		}
	}
	if m.px == 0 {
		return motion{width: 1}
	}
	return m
}

// squares are the squared FWHM along a sub's stars less that across, in its two directions,
// and their sum.
func (e *evidence) squares() (x, y, sum float64, ok bool) {
	if e.Field == nil || e.byLight() {
		return 0, 0, 0, false
	}
	x, y = e.ellipticityVector()
	size, square := math.Hypot(x, y), e.Field.FWHM.V*e.Field.FWHM.V
	sum = square * (1/(1-size) + (1 - size))
	less := square * (1/(1-size) - (1 - size))
	if size > 0 {
		x, y = less*x/size, less*y/size
	}
	return x, y, sum, !math.IsNaN(x + y + sum)
}

// leastAcross bounds what noise may leave of a star across its motion, of its squares.
const leastAcross = 0.1

// withoutMotion is a sub's FWHM without the motion of the comet that its session followed,
// over that with it, and the ellipticity that is left.
func (e *evidence) withoutMotion() (width, ellipticity float64, ok bool) {
	x, y, sum, ok := e.squares()
	if !ok || e.motion.px == 0 {
		return 1, math.NaN(), false
	}
	left := math.Max(sum-math.Hypot(e.motion.x, e.motion.y), leastAcross*sum)
	less := math.Min(math.Hypot(x-e.motion.x, y-e.motion.y), (1-leastAcross)*left)
	a, b := math.Sqrt((left+less)/2), math.Sqrt((left-less)/2)
	return math.Sqrt(a*b) / e.Field.FWHM.V, 1 - b/a, true
}
