package report

import (
	"html/template"
	"image"
	"math"

	"fitsqa/internal/frames"
	"fitsqa/internal/say"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stats"
)

// setView is a calibration set or the camera's summary on the page.
type setView struct {
	Label, Kind string
	Metrics     []metricRow
	Warnings    []string
	Figures     []figureView
	Master      *masterView // picture of the master frame
}

type masterView struct {
	Source        template.HTMLAttr
	Width, Height int
}

type metricRow struct {
	Title, Name, Value, Unit, N, Note string
}

func newSetView(s *sensor.Set) setView {
	v := setView{Label: frames.Printable(s.Label), Kind: s.Kind, Warnings: printable(say.SetWarnings(s))}
	for _, m := range s.Metrics() {
		row := metricRow{Title: m.Title, Name: m.Name, Value: measured(m.Value), Unit: m.Unit, Note: say.Typeset(frames.Printable(say.Note(m.Note)))}
		if m.Value.N > 0 {
			row.N = plain(float64(m.Value.N))
		}
		if !m.Value.OK() {
			row.Unit, row.Note = "", say.Typeset(frames.Printable(newFigure(m.Value).Reason))
		}
		v.Metrics = append(v.Metrics, row)
	}
	v.Figures = setFigures(s)
	v.Master = newMasterView(masterOf(s))
	return v
}

func masterOf(s *sensor.Set) *frames.Preview {
	switch {
	case s.Bias != nil:
		return s.Bias.Master
	case s.Dark != nil:
		return s.Dark.Master
	case s.Flat != nil:
		return s.Flat.Master
	}
	return nil
}

// newMasterView draws a master from its darkest to its brightest part, the
// outermost half percent on either side left to black and white: masters are
// nearly flat, and what matters is their pattern.
func newMasterView(p *frames.Preview) *masterView {
	if p == nil {
		return nil
	}
	var values []float64
	for _, x := range p.Pixels {
		if v := float64(x); !math.IsNaN(v) && !math.IsInf(v, 0) {
			values = append(values, v)
		}
	}
	if len(values) == 0 {
		return nil
	}
	low, high := stats.Quantile(values, 0.005), stats.Quantile(values, 0.995)
	im := image.NewGray(image.Rect(0, 0, p.Width, p.Height))
	for y := range p.Height {
		for x := range p.Width {
			share := (float64(p.Pixels[y*p.Width+x]) - low) / (high - low)
			if share > 0 { // also false for NaN
				im.Pix[(p.Height-1-y)*im.Stride+x] = uint8(255 * math.Min(1, share))
			}
		}
	}
	return &masterView{imageSource(dataURI(encodeJPEG(im, pictureQuality))), p.Width, p.Height}
}
