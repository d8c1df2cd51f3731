package night

import (
	"cmp"
	"math"
	"slices"

	"fitsqa/internal/frames"
	"fitsqa/internal/stars"
)

// stripStars is how many stars a sub's strip shows: enough to reach every corner
// of most fields, few enough for one look.
const stripStars = 16

// Strip pieces are as wide as stars need, px: six times their width, but neither
// so small that a trail leaves them nor so large that they hold half the field.
const (
	stripLeast, stripMost = 32, 96
	stripWidths           = 6
)

// cutStars keeps the pieces around the brightest stars that are not saturated,
// out of the pixels as the star search left them: the background taken off and
// mosaics filled in. A few more than are shown, since some of them may turn out
// to stay at their pixels while the field moves, and are no stars then.
func cutStars(p *frames.Preview, field *stars.Field, pixels []float32) {
	width := field.FWHM.V
	if !(width > 0) {
		width = field.HFD.V
	}
	size := stripLeast
	if width > 0 {
		size = 2 * int(math.Min(stripMost, math.Max(stripLeast, stripWidths*width))/2)
	}
	var places [][2]float64
	half := float64(size)/2 + 1
	for _, s := range field.Stars {
		inside := s.X > half && s.Y > half && s.X < float64(field.Width)-half && s.Y < float64(field.Height)-half
		if !s.Saturated && inside {
			places = append(places, [2]float64{s.X, s.Y})
		}
		if len(places) == stripStars+stripStars/2 {
			break
		}
	}
	p.AddCrops(pixels, field.Width, field.Height, size, places)
}

// Strip is the pieces of a sub's preview around its brightest stars that are not saturated,
// ordered by their distance from the centre: round stars that grow long outwards
// tell of the optics, stars that are long everywhere of tracking.
func (s *Sub) Strip(p *frames.Preview) []frames.Crop {
	if s.Field == nil {
		return nil
	}
	var strip []frames.Crop
	for _, c := range p.Crops {
		if len(strip) < stripStars && s.hasStar(c) {
			strip = append(strip, c)
		}
	}
	from := func(c frames.Crop) float64 {
		return math.Hypot(float64(c.X+c.Width/2)-float64(s.Field.Width)/2, float64(c.Y+c.Height/2)-float64(s.Field.Height)/2)
	}
	slices.SortStableFunc(strip, func(a, b frames.Crop) int { return cmp.Compare(from(a), from(b)) })
	return strip
}

// hasStar tells whether the star in the middle of a piece still counts as one.
func (s *Sub) hasStar(c frames.Crop) bool {
	return slices.ContainsFunc(s.Field.Stars, func(st stars.Star) bool {
		return int(math.Round(st.X)) == c.X+c.Width/2 && int(math.Round(st.Y)) == c.Y+c.Height/2
	})
}
