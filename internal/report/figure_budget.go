package report

import (
	"fmt"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/worth"
)

// budgetFigure shows where the noise of the finished stack comes from: without
// darks and dither, with dither, and with the darks that help most.
func budgetFigure(w *worth.Answer) (figureView, bool) {
	cases := budgetCases(w.Cases)
	if len(cases) == 0 {
		return figureView{}, false
	}
	parts := []struct {
		name string
		of   func(worth.Case) float64
	}{
		{"all together", func(c worth.Case) float64 { return c.Total }},
		{"master", func(c worth.Case) float64 { return c.Master }},
		{"dark pattern", func(c worth.Case) float64 { return c.FixedPattern }},
		{"read noise", func(c worth.Case) float64 { return c.Read }},
		{"dark current", func(c worth.Case) float64 { return c.DarkShot }},
		{"sky", func(c worth.Case) float64 { return c.Sky }},
	}
	p := newPlot("noise in the stack, e- per pixel", "")
	p.X.Min = 0
	ticks := make([]plot.Tick, len(parts))
	bar := 0.8 / float64(len(cases))
	for i, part := range parts {
		ticks[i] = plot.Tick{Value: float64(i), Label: part.name}
		for k, c := range cases {
			top := float64(i) + 0.4 - float64(k)*bar
			fill := []themed{firstColor, faded(secondColor, 0.3), faded(secondColor, 0)}[k]
			v := part.of(c)
			p.Add(rectangle{0, top - bar*0.9, v, top, fill, k > 0},
				label{x: v, y: top - bar*0.45, text: decimals(v, 2), across: 1, offset: vg.Point{X: vg.Points(4)}})
		}
	}
	p.Y.Tick.Marker = plot.ConstantTicks(ticks)
	p.Y.Tick.LineStyle.Width = 0
	p.X.Max *= 1.15 // room for the last number
	caption := ""
	for k, c := range cases {
		caption += fmt.Sprintf("%s: %s, %s. ", []string{"Full bars", "Tinted bars", "Open bars"}[k], correctionWords(c), ditherWords(c))
	}
	return drawn(p, frames.Printable(w.Label), caption, figureHeight*4/3), true
}

func correctionWords(c worth.Case) string {
	switch c.Correction {
	case worth.ByDarks:
		return fact.Plural(c.Frames, "dark")
	case worth.ByBias:
		return fmt.Sprintf("bias of %d", c.Frames)
	}
	return "nothing"
}

func ditherWords(c worth.Case) string {
	if c.Dithered {
		return "dithered"
	}
	return "not dithered"
}

// budgetCases picks the cases that show what dither and darks do each: a bias
// taken off subs that lie still, and that move, and the best darks.
func budgetCases(cases []worth.Case) []worth.Case {
	var picked []worth.Case
	best := -1
	for i, c := range cases {
		switch {
		case c.Correction == worth.ByBias && len(picked) < 2 && c.Dithered == (len(picked) == 1):
			picked = append(picked, c)
		case c.Correction == worth.ByDarks && c.Dithered && (best < 0 || c.Total < cases[best].Total):
			best = i
		}
	}
	if best >= 0 && len(picked) > 0 {
		picked = append(picked, cases[best])
	}
	return picked
}
