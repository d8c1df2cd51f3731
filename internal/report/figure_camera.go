package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/say"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stats"
)

func transferFigure(c *sensor.Camera) (figureView, bool) {
	var fitted, others plotter.XYs
	for _, t := range c.Transfer {
		pt := plotter.XY{X: t.Signal, Y: t.Variance}
		if t.Fitted {
			fitted = append(fitted, pt)
		} else {
			others = append(others, pt)
		}
	}
	fitted, others = finite(fitted), finite(others)
	if len(fitted)+len(others) < 2 {
		return figureView{}, false
	}
	p := newPlot("signal above the offset, ADU", "variance, ADU²")
	addGrid(p)
	high := 0.0
	for _, pt := range append(append(plotter.XYs{}, fitted...), others...) {
		high = math.Max(high, pt.X)
	}
	caption := ""
	if c.TransferFit.N > 1 {
		addLine(p, "fit", plotter.XYs{{X: 0, Y: c.TransferFit.At(0)}, {X: high, Y: c.TransferFit.At(high)}}, 1)
		if c.TransferFit.B > 0 {
			caption = fmt.Sprintf("Slope %s ADU per ADU: %s e-/ADU.", significant(c.TransferFit.B, 4), significant(1/c.TransferFit.B, 4))
		}
	}
	if len(fitted) > 0 {
		addPoints(p, "pairs in the fit", fitted, draw.CircleGlyph{}, firstColor)
	}
	if len(others) > 0 {
		addPoints(p, "pairs left out", others, crossGlyph{}, inkColor)
	}
	p.Legend.Left = true
	headroom(p, 0.3)
	return drawn(p, "Photon transfer curve", caption, figureHeight), true
}

// residualFigure is how far the transfer curve's points lie from its line.
func residualFigure(c *sensor.Camera) (figureView, bool) {
	var points plotter.XYs
	for _, t := range c.Transfer {
		if t.Fitted && t.Variance != 0 {
			points = append(points, plotter.XY{X: t.Signal, Y: 100 * t.Residual / t.Variance})
		}
	}
	if points = finite(points); len(points) < 3 {
		return figureView{}, false
	}
	p := newPlot("signal above the offset, ADU", "variance off the fit, %")
	addGrid(p)
	addPoints(p, "", points, draw.CircleGlyph{}, firstColor)
	p.Y.Min, p.Y.Max = math.Min(p.Y.Min, 0), math.Max(p.Y.Max, 0)
	return drawn(p, "Transfer curve, residuals", "", figureHeight), true
}

func linearityFigure(c *sensor.Camera) (figureView, bool) {
	byFilter := map[names.Name]plotter.XYs{}
	var filters []names.Name
	total := 0
	for _, l := range c.Linearity {
		if _, ok := byFilter[l.Filter]; !ok {
			filters = append(filters, l.Filter)
		}
		byFilter[l.Filter] = append(byFilter[l.Filter], plotter.XY{X: l.Signal, Y: l.DeviationPct})
		total++
	}
	if total < 3 {
		return figureView{}, false
	}
	p := newPlot("signal above the offset, ADU", "off the line, %")
	addGrid(p)
	shapes := []draw.GlyphDrawer{draw.CircleGlyph{}, draw.BoxGlyph{}, draw.PyramidGlyph{}, crossGlyph{}}
	for i, f := range filters {
		addPoints(p, orNone(f, "no filter"), finite(byFilter[f]), shapes[i%len(shapes)], []themed{firstColor, secondColor}[i%2])
	}
	headroom(p, 0.3)
	return drawn(p, "Linearity", "Flats of one steady light: signal against exposure, less the straight line.", figureHeight), true
}

// exposureFigure is dark signal against exposure, one series a temperature.
func exposureFigure(c *sensor.Camera) (figureView, bool) {
	p := newPlot("exposure, s", "level above the bias, ADU")
	addGrid(p)
	drawnSeries := 0
	shapes := []draw.GlyphDrawer{draw.CircleGlyph{}, draw.BoxGlyph{}, draw.PyramidGlyph{}}
	caption := ""
	for _, s := range c.Series {
		var points plotter.XYs
		high := 0.0
		for _, e := range s.Points {
			points = append(points, plotter.XY{X: e.Exposure, Y: e.Level})
			high = math.Max(high, e.Exposure)
		}
		if points = finite(points); len(points) < 2 {
			continue
		}
		k := drawnSeries % 3
		if s.Fit.N > 1 {
			addLine(p, "", plotter.XYs{{X: 0, Y: s.Fit.At(0)}, {X: high, Y: s.Fit.At(high)}}, k)
		}
		addPoints(p, decimals(s.TempC, 1)+" °C", points, shapes[k], lineStyles[k].Color)
		if s.Finding.Code != "" {
			caption += fmt.Sprintf("%s °C: %s. ", decimals(s.TempC, 1), say.Fact(s.Finding))
		}
		drawnSeries++
	}
	if drawnSeries == 0 {
		return figureView{}, false
	}
	p.Legend.Left = true
	headroom(p, 0.2)
	return drawn(p, "Dark signal against exposure", frames.Printable(caption), figureHeight), true
}

func temperatureFigure(c *sensor.Camera) (figureView, bool) {
	law := c.Temperature
	var points plotter.XYs
	low, high := math.Inf(1), math.Inf(-1)
	for _, t := range law.Points {
		if t.Rate > 0 {
			points = append(points, plotter.XY{X: t.TempC, Y: t.Rate})
			low, high = math.Min(low, t.TempC), math.Max(high, t.TempC)
		}
	}
	if points = finite(points); len(points) < 2 {
		return figureView{}, false
	}
	unit := "ADU/s"
	if law.Electrons {
		unit = "e-/s"
	}
	p := newPlot("sensor temperature, °C", "dark current, "+unit+", log scale")
	logarithmic(p)
	addPoints(p, "dark sets", points, draw.CircleGlyph{}, firstColor)
	if law.Fit.N > 1 {
		var curve plotter.XYs
		for i := range 41 {
			t := low + (high-low)*float64(i)/40
			curve = append(curve, plotter.XY{X: t, Y: math.Exp(law.Fit.At(sensor.InverseKT(t) - sensor.InverseKT(law.MidC)))})
		}
		addLine(p, "Arrhenius law", finite(curve), 1)
	}
	p.Legend.Left = true
	caption := ""
	if law.DoublingC.OK() {
		caption = fmt.Sprintf("Doubles every %s °C, %s", measured(law.DoublingC), say.Fact(law.Basis))
	}
	return drawn(p, "Dark current against temperature", frames.Printable(caption), figureHeight), true
}

// mapFigure is a coarse map of a frame: tints from the lowest to the highest
// cell, with the numbers of a few.
func mapFigure(m stats.Map, title string, scale float64) (figureView, bool) {
	if m.Width < 2 || m.Height < 2 || len(m.Values) < m.Width*m.Height {
		return figureView{}, false
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, v := range m.Values {
		if !math.IsNaN(v) {
			low, high = math.Min(low, v), math.Max(high, v)
		}
	}
	if !(high > low) {
		return figureView{}, false
	}
	p := newPlot("x, px", "y, px")
	p.X.Padding, p.Y.Padding = 0, 0
	step := float64(m.Step)
	// Neighbouring cells are joined so that a map has at most some 400 tiles.
	join := int(math.Ceil(math.Sqrt(float64(m.Width*m.Height) / 400)))
	for j := 0; j < m.Height; j += join {
		for i := 0; i < m.Width; i += join {
			v := meanOfCells(m, i, j, join)
			if math.IsNaN(v) {
				continue
			}
			x1, y1 := float64(min(i+join, m.Width))*step, float64(min(j+join, m.Height))*step
			p.Add(rectangle{float64(i) * step, float64(j) * step, x1, y1, faded(firstColor, 0.03+0.82*(v-low)/(high-low)), false})
		}
	}
	height := vg.Length(figureWidth) * vg.Length(math.Max(0.5, math.Min(1, float64(m.Height)/float64(m.Width))))
	caption := fmt.Sprintf("From %s (palest) to %s (deepest).", significant(low*scale, 3), significant(high*scale, 3))
	return drawn(p, title, caption, height), true
}

// meanOfCells joins cells for drawing.
func meanOfCells(m stats.Map, i0, j0, join int) float64 {
	sum, n := 0.0, 0
	for j := j0; j < min(j0+join, m.Height); j++ {
		for i := i0; i < min(i0+join, m.Width); i++ {
			if v := m.Values[j*m.Width+i]; !math.IsNaN(v) {
				sum += v
				n++
			}
		}
	}
	return sum / float64(n) // 0/0 is NaN
}

// hotFigure counts hot pixels per dark set, by temperature, then exposure.
func hotFigure(sets []*sensor.Set) (figureView, bool) {
	var ticks []plot.Tick
	p := newPlot("hot pixels", "")
	p.X.Min = 0
	sets = slices.Clone(sets)
	slices.SortStableFunc(sets, func(a, b *sensor.Set) int {
		if a.Group == nil || b.Group == nil {
			return 0
		}
		return cmp.Or(cmp.Compare(a.Group.SetTemp, b.Group.SetTemp), cmp.Compare(a.Group.Exposure, b.Group.Exposure))
	})
	for _, s := range sets {
		if s.Kind != sensor.KindDark || !s.Dark.HotPixels.OK() {
			continue
		}
		hot := s.Dark.HotPixels
		at := -float64(len(ticks))
		ticks = append(ticks, plot.Tick{Value: at, Label: clip(darkLabel(s), 24)})
		p.Add(rectangle{0, at - 0.35, hot.V, at + 0.35, firstColor, false},
			label{x: hot.V, y: at, text: decimals(hot.V, 0), across: 1, offset: vg.Point{X: vg.Points(4)}})
	}
	if len(ticks) < 2 {
		return figureView{}, false
	}
	p.X.Max *= 1.2
	p.Y.Tick.Marker = plot.ConstantTicks(ticks)
	p.Y.Tick.LineStyle.Width = 0
	return drawn(p, "Hot pixels, by dark set", "", vg.Length(60+26*len(ticks))), true
}

func darkLabel(s *sensor.Set) string {
	if s.Group == nil {
		return frames.Printable(s.Label)
	}
	return fmt.Sprintf("%s s, %s °C", plain(s.Group.Exposure), decimals(s.Group.SetTemp, 0))
}
