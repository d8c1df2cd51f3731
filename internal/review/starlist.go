package review

import (
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/say"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/measure"
	"fitsqa/internal/stats"
)

// starView is one star for the page; figures that are missing are null.
type starView struct {
	X           float64  `json:"x"`
	Y           float64  `json:"y"`
	Flux        float64  `json:"flux"` // ADU
	SNR         float64  `json:"snr"`
	FWHM        *float64 `json:"fwhm"` // px
	Ellipticity *float64 `json:"ellipticity"`
	Angle       *float64 `json:"angle"` // degrees
	HFD         *float64 `json:"hfd"`   // px
	Left        string   `json:"left"`  // why its shape does not count; "" when it does
}

// rejectedView is a light that is no star.
type rejectedView struct {
	X   float64 `json:"x"`
	Y   float64 `json:"y"`
	Why string  `json:"why"`
}

// mostRejected bounds the list: of a camera with many hot pixels each is a point.
const mostRejected = 5000

type starList struct {
	FWHM  *float64   `json:"fwhm"` // px, median of the field
	Stars []starView `json:"stars"`
	Notes []string   `json:"notes"`

	Rejected []rejectedView `json:"rejected"` // what shines and is no star
	More     int            `json:"more"`     // of these, left out of the list

	found []stars.Star
}

// measureStars measures a picture as check does, but on the frame as it is,
// without the masters that check had at hand: a hot pixel that a dark took off
// there may show here.
func measureStars(p *picture, gain, saturation float64) (*starList, error) {
	k := 0
	if len(p.levels[0].planes) == 3 {
		k = 1 // green, as check does
	}
	pixels := make([]float32, p.width*p.height)
	p.levels[0].planes[k].row(pixels, p.width*p.height, 0, 0, p.width*p.height)
	opt := stars.DefaultOptions
	opt.Gain, opt.Bayer = gain, p.bayer != ""
	if saturation > 0 {
		opt.Saturation = saturation
	}
	var m measure.Measurer
	field, err := m.Measure(pixels, p.width, p.height, opt)
	if err != nil {
		return nil, err
	}
	out := &starList{FWHM: known(field.FWHM.V), Stars: []starView{}, Notes: append([]string{}, say.Each(field.Notes)...), Rejected: []rejectedView{}, found: field.Stars}
	for _, s := range field.Stars {
		v := starView{X: s.X, Y: s.Y, Flux: s.Flux, SNR: s.SNR, FWHM: known(s.FWHM), Ellipticity: known(s.Ellipticity),
			Angle: known(s.Angle), HFD: known(s.HFD)}
		switch {
		case s.Saturated:
			v.Left = "saturated"
		case s.Knot:
			v.Left = "wider than stars: a knot of a galaxy or nebula"
		case s.Blended:
			v.Left = "blended with a neighbour"
		case !s.Fitted:
			v.Left = "no profile fitted: faint, or enough others were"
		}
		out.Stars = append(out.Stars, v)
	}
	rejected := m.Rejected()
	out.More = max(0, len(rejected)-mostRejected)
	for _, r := range rejected[out.More:] { // the many come first: points of light
		out.Rejected = append(out.Rejected, rejectedView{r.X, r.Y, say.Fact(fact.Of(r.Why))})
	}
	return out, nil
}

func known(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

// profile is the light of one star over the distance from its centre.
type profile struct {
	Radius  []float64 `json:"radius"` // px
	Value   []float64 `json:"value"`  // above the background
	Peak    *float64  `json:"peak"`   // of the fitted curve peak (1 + (r/core)²)^-beta; null without one
	Core    *float64  `json:"core"`   // px
	Beta    *float64  `json:"beta"`
	Reached float64   `json:"reached"` // px, how far the pixels reach
}

// profileOf cuts a star out of the picture. Of a mosaic the green pixels count.
func (p *picture) profileOf(s stars.Star) profile {
	width := s.FWHM
	if math.IsNaN(width) {
		width = s.HFD
	}
	reach := math.Min(60, math.Max(8, 2.5*width))
	if math.IsNaN(reach) {
		reach = 12
	}
	k := 0
	if len(p.levels[0].planes) == 3 {
		k = 1
	}
	out := profile{Radius: []float64{}, Value: []float64{}, Reached: reach}
	var ring []float64
	x0, x1 := max(0, int(s.X-1.5*reach)), min(p.width, int(s.X+1.5*reach)+2)
	row := make([]float32, max(0, x1-x0))
	for y := max(0, int(s.Y-1.5*reach)); y < min(p.height, int(s.Y+1.5*reach)+2) && x1 > x0; y++ {
		p.levels[0].planes[k].row(row, p.width, y, x0, x1)
		for x := x0; x < x1; x++ {
			v := float64(row[x-x0])
			if math.IsNaN(v) || p.bayer != "" && plane(rune(p.bayer[y%2*2+x%2])) != 1 {
				continue
			}
			switch r := math.Hypot(float64(x)-s.X, float64(y)-s.Y); {
			case r <= reach:
				out.Radius, out.Value = append(out.Radius, r), append(out.Value, v)
			case r <= 1.5*reach:
				ring = append(ring, v)
			}
		}
	}
	if len(ring) > 0 {
		sky := stats.Median(ring)
		for i := range out.Value {
			out.Value[i] -= sky
		}
	}
	if s.Fitted && s.Beta > 1 && s.FWHM > 0 {
		// Half the FWHM is where the Moffat curve is half its peak, and the light
		// of a round one is pi core² peak / (beta - 1) (Moffat 1969, A&A 3, 455).
		core := s.FWHM / 2 / math.Sqrt(math.Pow(2, 1/s.Beta)-1)
		peak := s.Flux * (s.Beta - 1) / (math.Pi * core * core)
		out.Core, out.Beta, out.Peak = known(core), known(s.Beta), known(peak)
	}
	return out
}
