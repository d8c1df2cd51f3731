package dust

import (
	"math"
	"slices"

	"fitsqa/internal/stats"
)

// newShadows are dark patches of the residue, fixed to the sensor, where the
// flat has no shadow.
func (r *residue) newShadows(known []Shadow) []Shadow {
	m := stats.Map{Width: r.Width, Height: r.Height, Step: r.Step, Values: make([]float64, len(r.Values))}
	for i, v := range r.Values {
		m.Values[i] = 1 + v
	}
	m = smooth(m)
	dark, _ := Shadows(m)
	sky := m.FitPlane()
	return slices.DeleteFunc(dark, func(s Shadow) bool {
		for _, k := range known {
			if math.Hypot(s.X-k.X, s.Y-k.Y) < (s.Diameter+k.Diameter)/2 {
				return true
			}
		}
		w, ok := newWindow(m, s, known)
		return !ok || !w.belowSky(m, sky) || !r.standsOut(&w, known) || !r.onSensor(&w)
	})
}

// newSigma is by how much a new shadow stands out: it is the darkest of hundreds of
// places.
const newSigma = 8

// standsOut tells whether noise and sky feign no such shadow elsewhere.
func (r *residue) standsOut(w *window, known []Shadow) bool {
	sigma, _, _, ok := r.elsewhere(w, known)
	return ok && newSigma*sigma < 1
}

// belowSky tells whether a shadow is darker than the frame at large is there, and
// not only than something bright around it.
func (w *window) belowSky(m stats.Map, sky stats.Plane) bool {
	var off, depth float64
	for k, c := range w.cells {
		if r := math.Hypot(float64(c[0]), float64(c[1])); r <= w.radius && !w.blind[k] {
			u, v := m.Relative(w.i+c[0], w.j+c[1])
			off += m.At(w.i+c[0], w.j+c[1]) - sky.At(u, v)
			depth += w.depth[k]
		}
	}
	return off < -depth/3
}

// onSensor tells whether a new shadow is fixed to the sensor: more of it than
// moves with the stars, and so of all that is seen there.
func (r *residue) onSensor(w *window) bool {
	v := r.watch(w)
	share, err := v.moving(w.rings())
	// The shadow is dark: what moves of it would be -1 times its rings.
	left := 1 + share
	return left > 0.5 && left > fixedSigma*math.Hypot(err, skyDoubt*share) && v.stays() > -fixedSigma
}
