package report

import (
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg/draw"

	"fitsqa/internal/frames"
)

// economicsFigure shows the signal to noise of a group's stack against how
// many of the worst subs are dropped. A group of one sub has no such curve.
func economicsFigure(g groupSummary) (figureView, bool) {
	e := g.Economics
	if len(e.Plain) < 2 {
		return figureView{}, false
	}
	p := newPlot("worst subs dropped", "signal to noise (all, plain = 1)")
	p.X.Tick.Marker = wholeTicks{}
	addGrid(p)
	addLine(p, "weighted average", curve(e.Weighted), 1)
	addLine(p, "plain average", curve(e.Plain), 0)
	mark := func(name string, drop int, snr float64, shape draw.GlyphDrawer) {
		if point := finite(plotter.XYs{{X: float64(drop), Y: snr}}); len(point) > 0 {
			addPoints(p, name, point, shape, inkColor)
		}
	}
	mark("best cut", e.BestDrop, e.Plain[e.BestDrop], ringGlyph{})
	mark("what the verdicts leave, plain", e.UserDrop, e.UserPlain, crossGlyph{}) // off the curve where they cull others than the worst
	headroom(p, 0.45)
	return drawn(p, frames.Printable(groupName(g.Group)), frames.Printable(e.Words), figureWidth, figureHeight), true
}

// curve is a series against its index.
func curve(ys []float64) plotter.XYs {
	points := make(plotter.XYs, len(ys))
	for i, y := range ys {
		points[i] = plotter.XY{X: float64(i), Y: y}
	}
	return finite(points)
}

// headroom makes room for the legend above the data, as a share of its range.
func headroom(p *plot.Plot, share float64) {
	p.Y.Max += share * (p.Y.Max - p.Y.Min)
}
