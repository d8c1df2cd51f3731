package report

import (
	"fmt"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"fitsqa/internal/fact"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stack"
)

func setFigures(s *sensor.Set) []figureView {
	var all []figureView
	add := func(f figureView, ok bool) {
		if ok {
			all = append(all, f)
		}
	}
	switch {
	case !s.Measured:
	case s.Bias != nil:
		add(noiseFigure(s.Bias))
		add(countsFigure(s.Bias.PixelNoise, "Noise of single pixels", "noise, ADU", math.NaN()))
		add(levelFigure(s.Bias.Frames))
		add(masterNoiseFigure(s.Bias.Masters))
	case s.Dark != nil:
		add(countsFigure(s.Dark.Rates, "Dark rate of the pixels", "rate, ADU/s", s.Dark.Threshold))
		add(levelFigure(s.Dark.Frames))
		add(mapFigure(s.Dark.Glow, "Glow, ADU above its floor", 1))
	case s.Flat != nil:
		add(mapFigure(s.Flat.Illumination, "Illumination, % of the brightest part", 100))
		add(levelFigure(s.Flat.Frames))
	case s.Summary != nil:
		add(transferFigure(s.Summary))
		add(residualFigure(s.Summary))
		add(linearityFigure(s.Summary))
		add(exposureFigure(s.Summary))
		add(temperatureFigure(s.Summary))
	}
	return all
}

// noiseFigure is the histogram of differences of adjacent bias frames, with
// the normal curve of the same width.
func noiseFigure(b *sensor.Bias) (figureView, bool) {
	points, _ := countPoints(b.Diff, math.NaN())
	if len(points) < 2 {
		return figureView{}, false
	}
	clipped := b.Diff.Clip()
	n, mean, sd := float64(clipped.N), clipped.Mean, clipped.SD
	p := newPlot("difference of two frames, ADU", "pixels, log scale")
	logarithmic(p)
	addPoints(p, "pixels", points, draw.CircleGlyph{}, firstColor)
	if sd > 0 {
		normal := make(plotter.XYs, 0, 101)
		for k := -50; k <= 50; k++ {
			z := 5 * float64(k) / 50
			y := n * float64(b.Diff.Step()) * b.Diff.Unit / sd / math.Sqrt(2*math.Pi) * math.Exp(-z*z/2)
			if y >= 0.5 {
				normal = append(normal, plotter.XY{X: mean + z*sd, Y: y})
			}
		}
		addLine(p, "normal curve", normal, 1)
	}
	headroom(p, 0.2)
	return drawn(p, "Noise between adjacent frames", "The width over √2 is the read noise. Points outside the curve are pixels noisier than normal.",
		figureHeight), true
}

// countsFigure is a histogram with counts on a logarithmic axis, and a limit
// where there is one. Far beyond the limit it is cut off, or the hottest few
// pixels would squeeze all others together.
func countsFigure(c sensor.Counts, title, xTitle string, limit float64) (figureView, bool) {
	points, cut := countPoints(c, 4*limit)
	if len(points) < 2 {
		return figureView{}, false
	}
	p := newPlot(xTitle, "pixels, log scale")
	logarithmic(p)
	addLine(p, "", points, 0)
	caption := ""
	if limit > points[0].X && limit < points[len(points)-1].X {
		addLine(p, "hot from here", plotter.XYs{{X: limit, Y: p.Y.Min}, {X: limit, Y: p.Y.Max}}, 1)
		caption = fmt.Sprintf("Pixels right of %s are hot.", significant(limit, 3))
	}
	if cut > 0 {
		caption += fmt.Sprintf(" %s hotter still are not drawn.", fact.Plural(int(cut), "pixel"))
	}
	return drawn(p, title, caption, figureHeight), true
}

// countPoints are the filled bins of a histogram up to a value (NaN: all), at
// most some 400: bins are joined when there are more, so that the height stays
// a count per bin. cut is how many counts lie beyond.
func countPoints(c sensor.Counts, most float64) (points plotter.XYs, cut uint64) {
	if c.Histogram == nil {
		return nil, 0
	}
	trimmed := c.Trim()
	at := func(bin float64) float64 { return c.Offset + (float64(trimmed.Min)+bin)*c.Unit }
	last := len(trimmed.Counts) - 1
	for ; last >= 0 && at(float64(last)) > most; last-- {
		cut += trimmed.Counts[last]
	}
	join := (last + 400) / 400
	for i := 0; i <= last; i += join {
		sum, n := uint64(0), 0
		for k := i; k < i+join && k <= last; k++ {
			sum += trimmed.Counts[k]
			n++
		}
		if sum > 0 {
			points = append(points, plotter.XY{X: at(float64(i) + float64(n-1)/2), Y: float64(sum) / float64(n)})
		}
	}
	return points, cut
}

func levelFigure(levels []stack.FrameLevel) (figureView, bool) {
	if len(levels) < 3 {
		return figureView{}, false
	}
	var good, out plotter.XYs
	for i, l := range levels {
		pt := plotter.XY{X: float64(i + 1), Y: l.Level}
		if l.Outlier {
			out = append(out, pt)
		} else {
			good = append(good, pt)
		}
	}
	good, out = finite(good), finite(out)
	if len(good) < 2 {
		return figureView{}, false
	}
	p := newPlot("frame, in time order", "level, ADU")
	p.X.Tick.Marker = wholeTicks{}
	addGrid(p)
	addPoints(p, "", good, draw.CircleGlyph{}, firstColor)
	caption := ""
	if len(out) > 0 {
		addPoints(p, "left out", out, crossGlyph{}, secondColor)
		caption = "Crossed frames are left out of the master and of every figure."
		headroom(p, 0.2)
	}
	return drawn(p, "Level of every frame", caption, figureHeight), true
}

// masterNoiseFigure is what a master of N bias frames adds to every sub.
func masterNoiseFigure(cases []sensor.MasterNoise) (figureView, bool) {
	var points plotter.XYs
	unit := "e-"
	for _, c := range cases {
		points = append(points, plotter.XY{X: float64(c.N), Y: c.Electron})
	}
	if points = finite(points); len(points) < 2 {
		points, unit = nil, "ADU"
		for _, c := range cases {
			points = append(points, plotter.XY{X: float64(c.N), Y: c.ADU})
		}
	}
	if points = finite(points); len(points) < 2 {
		return figureView{}, false
	}
	p := newPlot("frames in the master, log scale", "noise of the master, "+unit)
	p.X.Scale, p.X.Tick.Marker = plot.LogScale{}, powerTicks{}
	p.Y.Min = 0
	addLine(p, "", points, 0)
	addPoints(p, "", points, draw.CircleGlyph{}, firstColor)
	p.Y.Min = 0
	return drawn(p, "How many bias frames are enough", "It falls with the root of their number; compare it with the noise of a sub.", figureHeight), true
}

// crossGlyph and ringGlyph are markers bold enough to be seen on a line.
type crossGlyph struct{}

func (crossGlyph) DrawGlyph(c *draw.Canvas, style draw.GlyphStyle, at vg.Point) {
	r := style.Radius * 1.1
	line := draw.LineStyle{Color: style.Color, Width: vg.Points(1.75)}
	c.StrokeLine2(line, at.X-r, at.Y-r, at.X+r, at.Y+r)
	c.StrokeLine2(line, at.X-r, at.Y+r, at.X+r, at.Y-r)
}

type ringGlyph struct{}

func (ringGlyph) DrawGlyph(c *draw.Canvas, style draw.GlyphStyle, at vg.Point) {
	c.SetLineStyle(draw.LineStyle{Color: style.Color, Width: vg.Points(1.75)})
	var circle vg.Path
	r := style.Radius * 1.4
	circle.Move(vg.Point{X: at.X + r, Y: at.Y})
	circle.Arc(at, r, 0, 2*math.Pi)
	circle.Close()
	c.Stroke(circle)
}
