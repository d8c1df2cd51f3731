package profile

import "fitsqa/internal/stars"

// at places a profile on a star.
func (p params) at(st *stars.Star) params {
	p[0], p[1], p[2], p[3] = st.X, st.Y, max(st.Peak, 1e-12), 0
	return p
}

// halfWidths2 is the square of a pixel's distance from the centre of an elliptical
// profile, in half widths at half maximum.
func (p *params) halfWidths2(s sample) float64 {
	dx, dy := s.x-p[0], s.y-p[1]
	return p[4]*dx*dx + 2*p[5]*dx*dy + p[6]*dy*dy
}
