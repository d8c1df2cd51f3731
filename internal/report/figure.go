package report

import (
	"bytes"
	"html/template"
	"image/color"
	"math"
	"regexp"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"
)

// themed is a colour of the page, standing in for its CSS variable: the
// finished SVG names the variable in its place, so that a figure follows the
// page from light to dark to red. Level is its red, green and blue, none 0,
// since the SVG canvas leaves black out.
type themed struct {
	level   uint32
	opacity float64 // 0 to 1
}

// RGBA is multiplied by the opacity, as the interface wants, half a level up:
// the SVG canvas divides by the opacity again and cuts the fraction off.
func (t themed) RGBA() (r, g, b, a uint32) {
	a = uint32(math.Max(0.01, t.opacity) * 0xffff) // at no opacity at all the level would be lost
	v := uint32((float64(t.level) + 0.5) * float64(a) / 0xff)
	return v, v, v, a
}

var (
	inkColor    = themed{1, 1} // text and axes
	gridColor   = themed{2, 1}
	firstColor  = themed{3, 1} // data
	secondColor = themed{4, 1}
)

var colourVariables = strings.NewReplacer(
	"#010101", "var(--ink)", "#020202", "var(--line)", "#030303", "var(--data-1)",
	"#040404", "var(--data-2)",
)

const (
	figureWidth  = 400 // points
	figureHeight = 250
	figureText   = 11
)

// figureView is a drawn figure with what a reader who cannot see it needs.
type figureView struct {
	SVG     template.HTML
	Title   string
	Caption string
}

// newPlot is an empty figure with axis titles in the page's style.
func newPlot(xTitle, yTitle string) *plot.Plot {
	p := plot.New()
	p.BackgroundColor = color.Transparent
	p.X.Label.Text, p.Y.Label.Text = xTitle, yTitle
	for _, axis := range []*plot.Axis{&p.X, &p.Y} {
		axis.Color = inkColor
		axis.Tick.Color = inkColor
		axis.LineStyle.Width = vg.Points(0.75)
		axis.Tick.LineStyle.Width = vg.Points(0.75)
		axis.Padding = vg.Points(4)
		axis.Tick.Marker = plainTicks{}
		for _, style := range []*draw.TextStyle{&axis.Label.TextStyle, &axis.Tick.Label} {
			style.Color = inkColor
			style.Font = font.Font{Typeface: "Liberation", Variant: "Sans", Size: figureText}
		}
	}
	p.Legend.TextStyle.Color = inkColor
	p.Legend.TextStyle.Font = font.Font{Typeface: "Liberation", Variant: "Sans", Size: figureText}
	p.Legend.Top = true
	p.Legend.Padding = vg.Points(3)
	return p
}

// addGrid draws faint lines at the ticks.
func addGrid(p *plot.Plot) {
	g := plotter.NewGrid()
	g.Vertical.Color, g.Horizontal.Color = gridColor, gridColor
	g.Vertical.Width, g.Horizontal.Width = vg.Points(0.5), vg.Points(0.5)
	p.Add(g)
}

// lineStyles tell series apart without colour: solid, dashed, dotted.
var lineStyles = []draw.LineStyle{
	{Color: firstColor, Width: vg.Points(1.75)},
	{Color: secondColor, Width: vg.Points(1.75), Dashes: []vg.Length{vg.Points(6), vg.Points(3)}},
	{Color: inkColor, Width: vg.Points(1.25), Dashes: []vg.Length{vg.Points(1.5), vg.Points(2.5)}},
}

// addLine draws a series in the k-th line style and names it in the legend.
func addLine(p *plot.Plot, name string, points plotter.XYs, k int) {
	line := &plotter.Line{XYs: points, LineStyle: lineStyles[k%len(lineStyles)]}
	p.Add(line)
	if name != "" {
		p.Legend.Add(name, line)
	}
}

// addPoints draws markers of one shape and names them in the legend.
func addPoints(p *plot.Plot, name string, points plotter.XYs, shape draw.GlyphDrawer, c color.Color) {
	scatter := &plotter.Scatter{XYs: points, GlyphStyle: draw.GlyphStyle{Color: c, Radius: vg.Points(3.5), Shape: shape}}
	p.Add(scatter)
	if name != "" {
		p.Legend.Add(name, scatter)
	}
}

func finite(points plotter.XYs) plotter.XYs {
	var kept plotter.XYs
	for _, pt := range points {
		if sum := pt.X + pt.Y; !math.IsNaN(sum) && !math.IsInf(sum, 0) {
			kept = append(kept, pt)
		}
	}
	return kept
}

var svgSize = regexp.MustCompile(`<svg width="[^"]*" height="[^"]*"`)

// drawn finishes a figure. Its height is in points; the page scales it.
func drawn(p *plot.Plot, title, caption string, height vg.Length) figureView {
	canvas := vgsvg.New(figureWidth, height)
	p.Draw(draw.New(canvas))
	var b bytes.Buffer
	if _, err := canvas.WriteTo(&b); err != nil {
		return figureView{Title: title, Caption: caption + " (could not be drawn: " + err.Error() + ")"}
	}
	svg := b.String()
	svg = svg[strings.Index(svg, "<svg"):]
	label := template.HTMLEscapeString(title + ". " + caption)
	svg = svgSize.ReplaceAllString(svg, `<svg role="img" aria-label="`+strings.ReplaceAll(label, "$", "&#36;")+`"`)
	svg = colourVariables.Replace(svg)
	return figureView{SVG: template.HTML(svg), Title: title, Caption: caption}
}

// rectangle and label draw in data coordinates for the plotters of this
// package.
type rectangle struct {
	x0, y0, x1, y1 float64
	fill           color.Color
	outline        bool
}

func (r rectangle) Plot(c draw.Canvas, p *plot.Plot) {
	tx, ty := p.Transforms(&c)
	path := []vg.Point{{X: tx(r.x0), Y: ty(r.y0)}, {X: tx(r.x1), Y: ty(r.y0)}, {X: tx(r.x1), Y: ty(r.y1)}, {X: tx(r.x0), Y: ty(r.y1)}}
	if r.fill != nil {
		c.FillPolygon(r.fill, path)
	}
	if r.outline {
		c.StrokeLines(draw.LineStyle{Color: inkColor, Width: vg.Points(0.75)}, append(path, path[0]))
	}
}

func (r rectangle) DataRange() (xmin, xmax, ymin, ymax float64) {
	return min(r.x0, r.x1), max(r.x0, r.x1), min(r.y0, r.y1), max(r.y0, r.y1)
}

// label is text in a figure; across is -1, 0 or 1 for text that ends at, is
// centred on, or begins at the point.
type label struct {
	x, y   float64
	text   string
	across int
	offset vg.Point
}

func (l label) Plot(c draw.Canvas, p *plot.Plot) {
	tx, ty := p.Transforms(&c)
	style := p.X.Tick.Label
	style.Rotation = 0
	style.XAlign = []draw.XAlignment{draw.XRight, draw.XCenter, draw.XLeft}[l.across+1]
	style.YAlign = draw.YCenter
	c.FillText(style, vg.Point{X: tx(l.x) + l.offset.X, Y: ty(l.y) + l.offset.Y}, l.text)
}

// faded is a colour at a share of its strength, 0 to 1.
func faded(c themed, share float64) themed {
	c.opacity = math.Max(0, math.Min(1, share))
	return c
}

// plainTicks marks about five round numbers, with as many decimals as their
// step needs.
type plainTicks struct{}

func (plainTicks) Ticks(low, high float64) []plot.Tick { return roundTicks(low, high, 0) }

// wholeTicks marks whole numbers only, for axes that count.
type wholeTicks struct{}

func (wholeTicks) Ticks(low, high float64) []plot.Tick { return roundTicks(low, high, 1) }

// roundTicks marks multiples of a step of 1, 2 or 5 times a power of ten that
// is at least least.
func roundTicks(low, high, least float64) []plot.Tick {
	if !(high > low) || math.IsInf(high-low, 0) {
		return []plot.Tick{{Value: low, Label: significant(low, 3)}}
	}
	power := math.Floor(math.Log10((high - low) / 6))
	step := math.Pow(10, power)
	for _, times := range []float64{2, 5, 10} {
		if (high-low)/step > 6 {
			step = times * math.Pow(10, power)
		}
	}
	step = math.Max(step, least)
	places := max(0, -int(math.Floor(math.Log10(step)+1e-9)))
	var ticks []plot.Tick
	for k := math.Ceil(low/step - 1e-9); k*step <= high+1e-9*step; k++ {
		ticks = append(ticks, plot.Tick{Value: k * step, Label: decimals(k*step, places)})
	}
	return ticks
}

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

func logarithmic(p *plot.Plot) {
	p.Y.Scale, p.Y.Tick.Marker = plot.LogScale{}, powerTicks{}
}

// powerTicks marks powers of ten, and names their doubles and fivefolds where
// a short axis holds fewer than two.
type powerTicks struct{}

func (powerTicks) Ticks(low, high float64) []plot.Tick {
	if !(low > 0) || !(high > low) {
		return []plot.Tick{{Value: math.Max(low, 1), Label: "1"}}
	}
	var ticks []plot.Tick
	short := math.Floor(math.Log10(high*1.001))-math.Ceil(math.Log10(low*0.999)) < 1
	for e := math.Floor(math.Log10(low)); e <= math.Ceil(math.Log10(high)); e++ {
		for k := 1.0; k < 10; k++ {
			t := plot.Tick{Value: k * math.Pow(10, e)}
			if t.Value < low*0.999 || t.Value > high*1.001 {
				continue
			}
			if k == 1 || short && (k == 2 || k == 5) {
				t.Label = significant(t.Value, 1)
			}
			ticks = append(ticks, t)
		}
	}
	return ticks
}
