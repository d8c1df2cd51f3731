package calib

import (
	"math"

	"fitsqa/internal/frames"
	"fitsqa/internal/stats"
)

// preview makes a master small for the report.
func preview(pixels []float32, g *frames.Group) *frames.Preview {
	mosaic := len(g.Frames) > 0 && g.Frames[0].Meta.Bayer != ""
	return frames.Shrink(pixels, g.Width, g.Height, frames.PreviewWidth, mosaic)
}

// gridCells is into how many cells the longer side of a frame is cut.
const gridCells = 32

// coarse is a map of cell medians, which hot pixels and particle hits do not move.
func coarse(pixels []float32, width, workers int) Map {
	height := len(pixels) / width
	step := max(8, (max(width, height)+gridCells-1)/gridCells)
	step += step % 2 // whole 2x2 tiles of a colour mosaic
	m := Map{Width: max(1, width/step), Height: max(1, height/step), Step: step}
	m.Values = make([]float64, m.Width*m.Height)
	parallelItems(m.Height, workers, func(j int) {
		cell := make([]float32, 0, step*step)
		for i := range m.Width {
			cell = cell[:0]
			for y := j * step; y < min(height, (j+1)*step); y++ {
				cell = append(cell, pixels[y*width+i*step:y*width+min(width, (i+1)*step)]...)
			}
			m.Values[j*m.Width+i] = stats.MedianInPlace(cell)
		}
	})
	return m
}

// at is the value of cell i, j.
func (m Map) at(i, j int) float64 { return m.Values[j*m.Width+i] }

// plane is z = a + b u + c v over the cells, u and v running from -1/2 to 1/2
// across the frame.
type plane struct{ a, b, c float64 }

// fitPlane fits a plane by least squares, cells more than 3 robust sigma off
// dropped in three rounds: a glow in one corner is no gradient.
func (m Map) fitPlane() plane {
	use := make([]bool, len(m.Values))
	for i, v := range m.Values {
		use[i] = !math.IsNaN(v)
	}
	var p plane
	for range 4 {
		var s planeSums
		for j := range m.Height {
			for i := range m.Width {
				if !use[j*m.Width+i] {
					continue
				}
				s.add(m.u(i), m.v(j), m.at(i, j))
			}
		}
		p = s.solve()
		var rest []float64
		for j := range m.Height {
			for i := range m.Width {
				if !math.IsNaN(m.at(i, j)) {
					rest = append(rest, m.at(i, j)-p.at(m.u(i), m.v(j)))
				}
			}
		}
		centre, sigma := stats.Median(rest), stats.MADSigma(rest)
		for j := range m.Height {
			for i := range m.Width {
				d := m.at(i, j) - p.at(m.u(i), m.v(j)) - centre
				use[j*m.Width+i] = math.Abs(d) <= 3*sigma+1e-12
			}
		}
	}
	return p
}

func (m Map) u(i int) float64 { return (float64(i)+0.5)/float64(m.Width) - 0.5 }
func (m Map) v(j int) float64 { return (float64(j)+0.5)/float64(m.Height) - 0.5 }

func (p plane) at(u, v float64) float64 { return p.a + p.b*u + p.c*v }

// reach is the plane's difference between its highest and lowest corner.
func (p plane) reach() float64 { return math.Abs(p.b) + math.Abs(p.c) }

// planeSums are the normal equations of a plane, the right side last.
type planeSums [3][4]float64

// add takes in a point.
func (s *planeSums) add(u, v, z float64) {
	row := [3]float64{1, u, v}
	for r := range row {
		for c := range row {
			s[r][c] += row[r] * row[c]
		}
		s[r][3] += row[r] * z
	}
}

// solve solves the normal equations by elimination; directions that the
// cells do not fix (a single row) come out flat.
func (s planeSums) solve() plane {
	for k := range 3 {
		if math.Abs(s[k][k]) < 1e-9 {
			s[k] = [4]float64{}
			s[k][k] = 1
			for r := range 3 {
				if r != k {
					s[r][k] = 0
				}
			}
			continue
		}
		for r := range 3 {
			if r == k {
				continue
			}
			f := s[r][k] / s[k][k]
			for c := k; c < 4; c++ {
				s[r][c] -= f * s[k][c]
			}
		}
	}
	return plane{s[0][3] / s[0][0], s[1][3] / s[1][1], s[2][3] / s[2][2]}
}
