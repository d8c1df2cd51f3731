package figures

import (
	"math"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// minMapped is the fewest fitted stars that make a map: six a cell of 2 x 2.
const minMapped = 24

// MapOf lays a grid over the field, as fine as 5 x 5 where there are stars
// enough, and gives the medians of each cell.
func MapOf(list []stars.Star, w, h int) stars.Map {
	fitted := 0
	for _, s := range list {
		if s.Fitted {
			fitted++
		}
	}
	if fitted < minMapped {
		return stars.Map{}
	}
	side := min(5, int(math.Sqrt(float64(fitted)/6)))
	m := stars.Map{Cols: side, Rows: side}
	for j := range side {
		for i := range side {
			m.Cells = append(m.Cells, cellOf(list, i, j, side, w, h))
		}
	}
	return m
}

func cellOf(list []stars.Star, i, j, side, w, h int) stars.Cell {
	c := stars.Cell{X: (float64(i)+0.5)*float64(w)/float64(side) - 0.5, Y: (float64(j)+0.5)*float64(h)/float64(side) - 0.5,
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
	c.Ellipticity, c.Angle = math.Hypot(x, y), stars.Wrap90(math.Atan2(y, x)*90/math.Pi)
	return c
}
