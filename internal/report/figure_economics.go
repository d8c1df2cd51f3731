package report

import (
	"fmt"

	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg/draw"

	"fitsqa/internal/frames"
	"fitsqa/internal/say"
	"fitsqa/internal/subs"
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
	addLine(p, "average scaled to one light", curve(e.Scaled), 0)
	addLine(p, "plain average", curve(e.Plain), 2)
	mark := func(name string, drop int, snr float64, shape draw.GlyphDrawer) {
		if point := finite(plotter.XYs{{X: float64(drop), Y: snr}}); len(point) > 0 {
			addPoints(p, name, point, shape, inkColor)
		}
	}
	mark("best cut", e.BestDrop, e.Scaled[e.BestDrop], ringGlyph{})
	mark("what the verdicts leave, scaled", e.UserDrop, e.UserScaled, crossGlyph{}) // off the curve where they cull others than the worst
	headroom(p, 0.45)
	return drawn(p, frames.Printable(groupName(g.Group)), frames.Printable(say.Economics(&e)), figureHeight), true
}

// resolutionFigure draws the stack's signal to noise against the width of its
// stars, from all subs to the sharpest few, with the cuts that each aim is best
// served by. A group whose cuts all have one width has no such curve.
func resolutionFigure(g groupSummary) (figureView, bool) {
	e := g.Economics
	var points plotter.XYs
	for k := range e.FWHM {
		points = append(points, plotter.XY{X: e.FWHM[k], Y: e.Scaled[k]})
	}
	if points = finite(points); len(points) < 2 || len(e.Marks) == 0 {
		return figureView{}, false
	}
	p := newPlot("FWHM of the stack, px", "signal to noise (all, plain = 1)")
	addGrid(p)
	addLine(p, "the worst dropped one by one", points, 0)
	names := map[subs.Aim]string{subs.Depth: "deepest", subs.Balance: "balanced", subs.Detail: "sharpest"}
	shapes := []draw.GlyphDrawer{ringGlyph{}, crossGlyph{}, draw.TriangleGlyph{}}
	for i, m := range e.Marks {
		at := finite(plotter.XYs{{X: e.FWHM[m.Drop], Y: e.Scaled[m.Drop]}})
		if len(at) > 0 {
			addPoints(p, fmt.Sprintf("%s: %d dropped", names[m.Aim], m.Drop), at, shapes[i%len(shapes)], inkColor)
		}
	}
	headroom(p, 0.45)
	return drawn(p, frames.Printable(groupName(g.Group))+", depth and resolution", "Signal to noise for faint extended light against the width of the stars, predicted for every cut.", figureHeight), true
}
