package report

import (
	"fmt"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/stars"
)

// fieldFigure shows star width and elongation over the field of a group's good
// subs: a number and a tint for the width, a stroke for the elongation.
func fieldFigure(f night.FieldReport) (figureView, bool) {
	m := f.Map
	if m.Cols < 1 || m.Rows < 1 || len(m.Cells) < m.Cols*m.Rows {
		return figureView{}, false
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, c := range m.Cells {
		if !math.IsNaN(c.FWHM) {
			low, high = math.Min(low, c.FWHM), math.Max(high, c.FWHM)
		}
	}
	if low > high {
		return figureView{}, false
	}
	p := newPlot("x, px", "y, px")
	halfX, halfY := cellHalf(m)
	for _, c := range m.Cells {
		p.Add(fieldCell{c, halfX, halfY, low, high})
	}
	p.X.Min, p.Y.Min = math.Max(0, p.X.Min), math.Max(0, p.Y.Min)
	p.X.Padding, p.Y.Padding = 0, 0
	caption := fmt.Sprintf("FWHM in px, from %s to %s: the stronger the tint, the softer. "+
		"Strokes show which way stars are drawn out; one as wide as its cell is an ellipticity of 0.3.", decimals(low, 2), decimals(high, 2))
	height := vg.Length(figureWidth) * vg.Length(math.Max(0.5, math.Min(1, float64(m.Rows)*halfY/(float64(m.Cols)*halfX))))
	return drawn(p, frames.Printable(f.Group), caption, height), true
}

func cellHalf(m stars.Map) (x, y float64) {
	x, y = m.Cells[0].X, m.Cells[0].Y
	if m.Cols > 1 {
		x = (m.Cells[1].X - m.Cells[0].X) / 2
	}
	if m.Rows > 1 {
		y = (m.Cells[m.Cols].Y - m.Cells[0].Y) / 2
	}
	return math.Max(1, math.Abs(x)), math.Max(1, math.Abs(y))
}

type fieldCell struct {
	stars.Cell
	halfX, halfY float64
	low, high    float64 // px, FWHM of the sharpest and the softest cell
}

// fullStroke is the ellipticity whose stroke spans most of a cell.
const fullStroke = 0.3

func (f fieldCell) Plot(c draw.Canvas, p *plot.Plot) {
	softness := 0.0
	if f.high > f.low && !math.IsNaN(f.FWHM) {
		softness = (f.FWHM - f.low) / (f.high - f.low)
	}
	r := rectangle{f.X - f.halfX, f.Y - f.halfY, f.X + f.halfX, f.Y + f.halfY, faded(firstColor, 0.05+0.5*softness), true}
	if math.IsNaN(f.FWHM) {
		r.fill = nil
		r.Plot(c, p)
		label{x: f.X, y: f.Y, text: "too few stars"}.Plot(c, p)
		return
	}
	r.Plot(c, p)
	tx, ty := p.Transforms(&c)
	if !math.IsNaN(f.Ellipticity) && !math.IsNaN(f.Angle) {
		reach := 0.85 * math.Min(1, f.Ellipticity/fullStroke) * math.Min(float64(tx(f.X)-tx(f.X-f.halfX)), float64(ty(f.Y)-ty(f.Y-f.halfY)))
		sin, cos := math.Sincos(f.Angle * math.Pi / 180)
		dx, dy := vg.Length(reach*cos), vg.Length(reach*sin)
		// The stroke stands above the number, centred in the upper half.
		x, y := tx(f.X), ty(f.Y)+(ty(f.Y+f.halfY)-ty(f.Y))/3
		c.StrokeLine2(draw.LineStyle{Color: secondColor, Width: vg.Points(2)}, x-dx, y-dy, x+dx, y+dy)
	}
	label{x: f.X, y: f.Y - f.halfY/2, text: decimals(f.FWHM, 2)}.Plot(c, p)
}

func (f fieldCell) DataRange() (xmin, xmax, ymin, ymax float64) {
	return f.X - f.halfX, f.X + f.halfX, f.Y - f.halfY, f.Y + f.halfY
}
