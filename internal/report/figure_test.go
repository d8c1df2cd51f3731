package report

import (
	"encoding/xml"
	"io"
	"math"
	"strings"
	"testing"

	"fitsqa/internal/night"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stack"
	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
	"fitsqa/internal/worth"
)

// Every figure is well-formed SVG with its axis titles, in the page's own
// colours, and holds no number that could not be drawn.
func TestFigures(t *testing.T) {
	r := fakeNight(8)
	sum := summarize(r)
	all := map[string]figureView{}
	keep := func(name string) func(figureView, bool) {
		return func(f figureView, ok bool) {
			if !ok {
				t.Errorf("%s: not drawn", name)
			}
			all[name] = f
		}
	}
	keep("economics")(economicsFigure(sum.Groups[0]))
	keep("field")(fieldFigure(r.Fields[0]))
	keep("budget")(budgetFigure(&r.Worth[0]))
	keep("hot")(hotFigure(r.Calib.Sets))
	kinds := map[string]int{}
	for _, s := range r.Calib.Sets {
		for _, f := range setFigures(s) {
			kinds[s.Kind]++
			all[s.Kind+" "+f.Title] = f
		}
	}
	for kind, n := range map[string]int{"bias": 4, "dark": 6, "flat": 2, "camera": 5} {
		if kinds[kind] != n {
			t.Errorf("%d figures of %s sets, want %d", kinds[kind], kind, n)
		}
	}
	for name, f := range all {
		svg := string(f.SVG)
		decoder := xml.NewDecoder(strings.NewReader(svg))
		texts := 0
		for {
			token, err := decoder.Token()
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			if start, ok := token.(xml.StartElement); ok && start.Name.Local == "text" {
				texts++
			}
		}
		if texts < 3 {
			t.Errorf("%s has %d texts: axis titles and ticks are missing", name, texts)
		}
		for _, bad := range []string{"NaN", "Inf", "#0", "<?xml"} {
			if strings.Contains(svg, bad) {
				t.Errorf("%s holds %q", name, bad)
			}
		}
		if !strings.Contains(svg, `role="img" aria-label="`) || !strings.Contains(svg, "var(--ink)") {
			t.Errorf("%s has no label or no ink", name)
		}
	}
}

// What cannot be drawn is left out, whatever is missing.
func TestFiguresOfNothing(t *testing.T) {
	if _, ok := economicsFigure(groupSummary{Group: &subs.Group{}}); ok {
		t.Error("economics of no subs")
	}
	if _, ok := fieldFigure(night.FieldReport{Map: stars.Map{Cols: 1, Rows: 1, Cells: []stars.Cell{{FWHM: nan}}}}); ok {
		t.Error("field without stars")
	}
	if _, ok := budgetFigure(&worth.Answer{}); ok {
		t.Error("budget of no case")
	}
	empty := []*sensor.Set{
		{Measured: true, Bias: &sensor.Bias{}}, {Measured: true, Dark: &sensor.Dark{}}, {Measured: true, Flat: &sensor.Flat{}}, {Measured: true, Summary: &sensor.Camera{}},
		{Measured: true, Bias: &sensor.Bias{Diff: sensor.Counts{Histogram: stats.NewHistogram(0, 3)}}},
		{Measured: true, Dark: &sensor.Dark{Glow: stats.Map{Width: 3, Height: 3, Step: 1, Values: make([]float64, 9)}}},
		{Measured: true, Flat: &sensor.Flat{Illumination: stats.Map{Width: 2, Height: 2, Step: 1, Values: []float64{nan, nan, nan, nan}}}},
		{Measured: true, Bias: &sensor.Bias{Frames: []stack.FrameLevel{{Level: nan}, {Level: nan}, {Level: nan}}}},
	}
	for i, s := range empty {
		if got := setFigures(s); len(got) > 0 {
			t.Errorf("set %d: %d figures of nothing", i, len(got))
		}
	}
}

// Hostile names in a figure stay text.
func TestFigureNamesAreEscaped(t *testing.T) {
	g := summarize(fakeNight(8)).Groups[0]
	g.Group.Target = `</svg><script>alert(1)</script>$1"`
	f, _ := economicsFigure(g)
	if s := string(f.SVG); strings.Contains(s, "<script") || strings.Count(s, "</svg>") != 1 {
		t.Errorf("a name broke out of the figure: %.300s", s)
	}
}

func TestRoundTicks(t *testing.T) {
	for _, c := range []struct {
		low, high, least float64
		want             string
	}{
		{0, 1, 0, "0.0 0.2 0.4 0.6 0.8 1.0"},
		{501.28, 501.33, 0, "501.28 501.29 501.30 501.31 501.32 501.33"},
		{0, 3, 1, "0 1 2 3"},
		{-3000, 12000, 0, "0 5000 10000"},
		{0, 0, 0, "0"},
	} {
		var labels []string
		for _, tick := range roundTicks(c.low, c.high, c.least) {
			labels = append(labels, tick.Label)
		}
		if got := strings.Join(labels, " "); got != c.want {
			t.Errorf("%v to %v: %q, want %q", c.low, c.high, got, c.want)
		}
	}
}

// Tints keep the colour that they are tints of.
func TestTintsKeepTheirColour(t *testing.T) {
	f, _ := mapFigure(stats.Map{Width: 2, Height: 2, Step: 1, Values: []float64{0, 1, 2, 3}}, "map", 1)
	if n := strings.Count(string(f.SVG), "fill:var(--data-1)"); n != 4 {
		t.Errorf("%d of 4 cells have the colour of data", n)
	}
	for level := uint32(1); level <= 4; level++ {
		for opacity := 0.0; opacity <= 1; opacity += 0.01 {
			r, _, _, a := themed{level, opacity}.RGBA()
			if got := int(float64(r) * 255 / float64(a)); got != int(level) { // as the SVG canvas has it
				t.Fatalf("level %d at opacity %v comes out as %d", level, opacity, got)
			}
		}
	}
}

func TestPowerTicks(t *testing.T) {
	for _, c := range []struct {
		low, high float64
		want      string
	}{
		{1, 1000, "1 10 100 1000"},
		{0.012, 0.09, "0.02 0.05"},
		{0.4, 30, "1 10"},
		{0, 5, "1"},
	} {
		var labels []string
		for _, tick := range (powerTicks{}).Ticks(c.low, c.high) {
			if tick.Label != "" {
				labels = append(labels, tick.Label)
			}
		}
		if got := strings.Join(labels, " "); got != c.want {
			t.Errorf("%v to %v: %q, want %q", c.low, c.high, got, c.want)
		}
	}
}

// The stretch rises from black below the sky to white at bright stars, shows a
// brighter sky brighter, and its table agrees with its formula.
func TestStretch(t *testing.T) {
	s := newStretchAt(1000, 10, whiteSigma)
	for _, c := range []struct {
		value     float32
		low, high uint8
	}{
		{900, 0, 0}, {float32(math.NaN()), 0, 0}, {1000, 15, 40}, {2000, 90, 150}, {41000, 250, 255}, {1e9, 255, 255},
	} {
		if g := s.grey(c.value); g < c.low || g > c.high {
			t.Errorf("%v is grey %d, want %d to %d", c.value, g, c.low, c.high)
		}
	}
	pixels := make([]float32, 3000)
	for i := range pixels {
		pixels[i] = 950 + float32(i)*0.7
	}
	im := s.render(pixels, len(pixels), 1)
	for x, v := range pixels {
		if d := int(im.Pix[x]) - int(s.grey(v)); d < -1 || d > 1 { // the table's steps are finer than a grey level
			t.Fatalf("%v is grey %d, by the formula %d", v, im.Pix[x], s.grey(v))
		}
	}
}

// Row 0 of the frame is at the bottom of the picture.
func TestPictureIsUpright(t *testing.T) {
	im := newStretchAt(0, 1, whiteSigma).render([]float32{5000, 5000, 0, 0}, 2, 2)
	if im.Pix[0] >= im.Pix[im.Stride] {
		t.Errorf("the bright row 0 is not at the bottom: %v", im.Pix)
	}
}

// The pictures keep within their budget: the last strips go first, then the
// last previews.
func TestGalleryKeepsWithinBudget(t *testing.T) {
	g := gallery{previews: [][]byte{make([]byte, 10), make([]byte, 10)}, strips: [][]byte{make([]byte, 10), make([]byte, 10)}}
	if left := g.keepWithin(30); left != 0 || g.strips[1] != nil || g.strips[0] == nil || g.previews[1] == nil {
		t.Errorf("%d left, kept the wrong pictures: %v", left, g)
	}
	if left := g.keepWithin(15); left != 5 || g.strips[0] != nil || g.previews[0] == nil || g.previews[1] != nil {
		t.Errorf("%d left, kept the wrong pictures: %v", left, g)
	}
}
