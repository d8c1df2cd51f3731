package sensor

import (
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/stats"
)

// A mechanical shutter uncovers some parts of a frame for longer than others: of a flat
// of exposure t the light at a place is that of a long one times 1 + d/t, where d, in
// seconds, is by how much longer that place is open than the middle one. Flats of several
// exposures tell d as the slope of the logarithm of their shape against 1/t. Of one
// exposure nothing tells it.

// shapeCells is into how many cells the longer side is cut for the shape of a flat's
// light, and shapeSide how many pixels along each side of a cell are looked at.
const (
	shapeCells = 8
	shapeSide  = 20
)

// exposuresApart is from which ratio of exposures on two flats can tell a shutter.
const exposuresApart = 1.5

// Flats make a shape for certain where it explains so many times what is left over of
// one flat, of so many flats at least: light that moves from flat to flat (a
// sky's gradient, a lamp) moves all cells together, so that flats and not cells count;
// Fisher's F of 1 and 4 degrees exceeds 50 once in 500 times.
const (
	shutterSure  = 50
	shutterFlats = 6
)

// Shares of the light from which on shapes that differ harm: by so much large parts of a
// corrected sub are off, which a stretched picture shows (common practice, no source).
const (
	shutterHarm = 0.005
	shapesHarm  = 0.01 // where it may be no shutter: a twilight's gradient moves by less
)

func (f *flatRun) mixed() bool {
	low, high := math.Inf(1), 0.0
	for _, fr := range f.group.Frames {
		if e := fr.Meta.Exposure; e > 0 {
			low, high = min(low, e), max(high, e)
		}
	}
	return high >= exposuresApart*low
}

// shapeOf is the light in the cells of a flat over that in their median, as logarithms:
// means of the middle half of some pixels of each, which stars and hits do not move. Of a
// mosaic one colour is looked at. nil where a cell has no light.
func shapeOf(x []uint16, base []float32, width int, unit func(uint16) float64, offset float64) []float64 {
	height := len(x) / width
	step := (max(width, height) + shapeCells - 1) / shapeCells
	skip := max(2, step/shapeSide/2*2)
	var cells []float64
	light := make([]float64, 0, shapeSide*shapeSide)
	for y0 := 0; y0+step <= height; y0 += step {
		for x0 := 0; x0+step <= width; x0 += step {
			light = light[:0]
			for y := y0 + y0%2; y < y0+step; y += skip {
				for i := y*width + x0 + x0%2; i < y*width+x0+step; i += skip {
					if base != nil {
						offset = float64(base[i])
					}
					light = append(light, unit(x[i])-offset)
				}
			}
			slices.Sort(light)
			cells = append(cells, stats.Mean(light[len(light)/4:(3*len(light)+3)/4]))
		}
	}
	middle := stats.Median(cells)
	for c, v := range cells {
		if !(v > unlit*middle) {
			return nil
		}
		cells[c] = math.Log(v / middle)
	}
	return cells
}

func (f *flatRun) findShutter() {
	f.shutter = shutter{}
	var shots []flatShot
	for _, s := range f.shots {
		if s.shape != nil && s.frame.Meta.Exposure > 0 && s.light > f.darkest() && s.middle <= f.top {
			shots = append(shots, s)
		}
	}
	if len(shots) < shutterFlats {
		return
	}
	inverse := func(s flatShot) float64 { return 1 / s.frame.Meta.Exposure }
	slopes, left := regress(shots, inverse)
	var sum float64
	for _, b := range slopes {
		sum += b * b
	}
	explained := sum * spread2(shots, inverse)
	if !(explained > shutterSure*left/float64(len(shots)-2)) {
		return
	}
	f.shutter.travel = stats.Quantile(slopes, 0.95) - stats.Quantile(slopes, 0.05)
	f.shutter.like = f.likeShutter(shots, left)
}

// likeShutter is what else would make the shapes: a response that bends, where the light
// goes with the exposure; a sky whose gradient moves, where the time does.
func (f *flatRun) likeShutter(shots []flatShot, left float64) fact.Code {
	const (
		asWell      = 2   // times as much left over
		levelsApart = 0.2 // as a share: over less no response bends to be seen
	)
	level := func(s flatShot) float64 { return s.light }
	var lights []float64
	for _, s := range shots {
		lights = append(lights, s.light)
	}
	if _, l := regress(shots, level); l < asWell*left && spanOf(lights) > levelsApart*stats.Median(lights) {
		return ShapeBends
	}
	if slices.ContainsFunc(shots, func(s flatShot) bool { return s.frame.Meta.Start.IsZero() }) {
		return ShapeMoves
	}
	first := shots[0].frame.Meta.Start
	since := func(s flatShot) float64 { return s.frame.Meta.Start.Sub(first).Seconds() }
	if _, l := regress(shots, since); l < asWell*left {
		return ShapeMoves
	}
	return ""
}

// regress fits a line to each cell's logarithm against a figure of the flats: the slopes,
// and the sum of squares that is left over.
func regress(shots []flatShot, of func(flatShot) float64) (slopes []float64, left float64) {
	n := float64(len(shots))
	var mean float64
	for _, s := range shots {
		mean += of(s) / n
	}
	sxx := spread2(shots, of)
	for c := range shots[0].shape {
		var level, sxy float64
		for _, s := range shots {
			level += s.shape[c] / n
			sxy += (of(s) - mean) * s.shape[c]
		}
		slope := 0.0
		if sxx > 0 {
			slope = sxy / sxx
		}
		for _, s := range shots {
			r := s.shape[c] - level - slope*(of(s)-mean)
			left += r * r
		}
		slopes = append(slopes, slope)
	}
	return slopes, left
}

// spread2 is the sum of squares of a figure of the flats about its mean.
func spread2(shots []flatShot, of func(flatShot) float64) float64 {
	var each []float64
	for _, s := range shots {
		each = append(each, of(s))
	}
	return stats.Variance(each) * float64(len(each)-1)
}

// openLong is the exposure from which on the shutter's travel does no harm, s.
func (s shutter) openLong() float64 { return s.travel / shutterHarm }

// leaveOutShort takes flats out of the master that are short for the shutter, where three
// or more are not.
func (f *flatRun) leaveOutShort() {
	f.short = 0
	if f.shutter.travel == 0 || f.shutter.like != "" {
		return
	}
	long := slices.DeleteFunc(slices.Clone(f.used), func(s flatShot) bool { return s.frame.Meta.Exposure < f.shutter.openLong() })
	if len(long) >= 3 {
		f.short = len(f.used) - len(long)
		f.used = long
	}
}

func (f *flatRun) shutterWarning() (w fact.Fact, harms bool) {
	var exposures []float64
	for _, s := range f.shots {
		if e := s.frame.Meta.Exposure; s.shape != nil && e > 0 {
			exposures = append(exposures, e)
		}
	}
	if f.shutter.travel == 0 || len(exposures) == 0 {
		return fact.Fact{}, false
	}
	shortest, longest := slices.Min(exposures), slices.Max(exposures)
	off := f.shutter.travel / shortest
	if off < shutterHarm || f.shutter.like != "" && off < shapesHarm {
		return fact.Fact{}, false
	}
	values := []fact.Value{fact.Number("shortest_s", shortest), fact.Number("longest_s", longest), fact.Number("off_pct", 100*off)}
	if f.shutter.like != "" {
		return fact.Of(FlatsOfTwoShapes, append(values, fact.Detail("like", fact.Of(f.shutter.like)))...), true
	}
	values = append(values, fact.Number("travel_ms", 1000*f.shutter.travel), fact.Number("enough_s", f.shutter.openLong()))
	if f.short > 0 {
		return fact.Of(ShutterLeftOut, append(values, fact.Count("flats", f.short))...), true
	}
	return fact.Of(ShutterTravels, append(values, fact.Number("master_pct", 100*f.shutter.travel*f.meanInverse()))...), true
}

// meanInverse is the mean of one over the exposure of the master's flats, 1/s.
func (f *flatRun) meanInverse() float64 {
	var each []float64
	for _, s := range f.used {
		if e := s.frame.Meta.Exposure; e > 0 {
			each = append(each, 1/e)
		}
	}
	return stats.Mean(each)
}
