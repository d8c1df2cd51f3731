package stars

import (
	"math"

	"fitsqa/internal/stats"
)

// halfFluxDiameter is twice the radius of the circle around the star's centre
// that holds half its flux. The curve of growth runs to three times the
// seeing's width; what a Moffat of exponent 1/q has beyond is added to the
// total. Pixels are flat squares, so narrow stars come out broader than their
// profile. NaN when the star's surroundings do not allow it.
func (p *plane) halfFluxDiameter(st *Star, s seeing, q float64) float64 {
	reach := max(4, 3*s.fwhm)
	if st.X < reach || st.Y < reach || st.X > float64(p.w-1)-reach || st.Y > float64(p.h-1)-reach {
		return math.NaN()
	}
	level, _ := newRing(reach, 1.25*reach+1).background(p, int(math.Round(st.X)), int(math.Round(st.Y)))
	const step = 0.1 // px, of radius
	growth := make([]float64, int(reach/step)+1)
	var total float64
	for j := int(math.Ceil(st.Y - reach)); j <= int(st.Y+reach); j++ {
		for i := int(math.Ceil(st.X - reach)); i <= int(st.X+reach); i++ {
			if !p.trusted(i, j) {
				continue
			}
			v := float64(p.r[j*p.w+i]) - level
			dx, dy := float64(i)-st.X, float64(j)-st.Y
			parts := 1
			if dx*dx+dy*dy < 36 {
				parts = 5
			}
			share := v / float64(parts*parts)
			for b := range parts {
				for a := range parts {
					ex := dx + (float64(a)+0.5)/float64(parts) - 0.5
					ey := dy + (float64(b)+0.5)/float64(parts) - 0.5
					if r := math.Sqrt(ex*ex + ey*ey); r < reach {
						growth[int(r/step)] += share
						total += share
					}
				}
			}
		}
	}
	if s.hollow < 0.5 {
		total /= enclosed(q, 2*reach/s.fwhm)
	}
	if !(total > 0) {
		return math.NaN()
	}
	var sum float64
	for k, v := range growth {
		if sum+v >= total/2 && v > 0 {
			return 2 * step * (float64(k) + (total/2-sum)/v)
		}
		sum += v
	}
	return math.NaN()
}

// fieldMap lays a grid over the field, as fine as 5 x 5 where there are stars
// enough, and gives the medians of each cell.
func fieldMap(list []Star, w, h int) Map {
	fitted := 0
	for _, s := range list {
		if s.Fitted {
			fitted++
		}
	}
	side := min(5, int(math.Sqrt(float64(fitted)/6)))
	if side < 2 {
		return Map{}
	}
	m := Map{Cols: side, Rows: side}
	for j := range side {
		for i := range side {
			m.Cells = append(m.Cells, cellOf(list, i, j, side, w, h))
		}
	}
	return m
}

func cellOf(list []Star, i, j, side, w, h int) Cell {
	c := Cell{X: (float64(i)+0.5)*float64(w)/float64(side) - 0.5, Y: (float64(j)+0.5)*float64(h)/float64(side) - 0.5,
		FWHM: math.NaN(), Ellipticity: math.NaN(), Angle: math.NaN()}
	var fwhm, ex, ey []float64
	for _, s := range list {
		if s.Fitted && int(s.X+0.5)*side/w == i && int(s.Y+0.5)*side/h == j {
			fwhm = append(fwhm, s.FWHM)
			sn, cs := math.Sincos(2 * s.Angle * math.Pi / 180)
			ex, ey = append(ex, s.Ellipticity*cs), append(ey, s.Ellipticity*sn)
		}
	}
	c.Stars = len(fwhm)
	if c.Stars < 3 {
		return c
	}
	c.FWHM = stats.Median(fwhm)
	x, y := stats.Median(ex), stats.Median(ey)
	c.Ellipticity, c.Angle = math.Hypot(x, y), wrap90(math.Atan2(y, x)*90/math.Pi)
	return c
}
