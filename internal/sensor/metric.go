package sensor

import (
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/parallel"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
)

// times is the product of two measured figures; relative errors add in quadrature.
func times(a, b stats.Value) stats.Value {
	switch {
	case !a.OK():
		return a
	case !b.OK():
		return stats.Because(b.Why)
	}
	return stats.Known(a.V*b.V, math.Hypot(a.Err*b.V, b.KnownErr()*a.V), a.N)
}

func stepNote(step float64) []fact.Fact {
	for bits := 8; bits <= 15; bits++ {
		if step == math.Exp2(float64(16-bits)) {
			return []fact.Fact{fact.Of(ScaledSamples, fact.Count("bits", bits))}
		}
	}
	return nil
}

func spanOf(x []float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	lo, hi := x[0], x[0]
	for _, v := range x {
		lo, hi = min(lo, v), max(hi, v)
	}
	return hi - lo
}

// planeNames are the colours of a mosaic's four planes, in the order
// (0,0), (1,0), (0,1), (1,1); the two greens count apart.
func planeNames(m frames.Meta) []string {
	if len(m.Bayer) != 4 {
		return nil
	}
	names := make([]string, 4)
	for i := range names {
		c := m.Bayer[i : i+1]
		if c == "G" {
			c = "G1"
			if i >= 2 {
				c = "G2"
			}
		}
		names[i] = c
	}
	return names
}

// planeLevels are the clipped mean levels of the planes of a colour mosaic;
// nil for a mono camera.
func planeLevels(m frames.Meta, pixels []float32, width, workers int) []PlaneLevel {
	names := planeNames(m)
	if len(names) == 0 {
		return nil
	}
	levels := make([]PlaneLevel, len(names))
	parallel.Items(len(names), min(workers, 2), func(i int) { // each copies its plane: more take too much memory
		levels[i] = PlaneLevel{Name: names[i], Level: clippedLevel(planeOf(pixels, width, i))}
	})
	return levels
}

// planeOf picks one of the four planes of a mosaic.
func planeOf(pixels []float32, width, plane int) []float32 {
	height := len(pixels) / width
	out := make([]float32, 0, ((height+1)/2)*((width+1)/2))
	for y := plane / 2; y < height; y += 2 {
		for x := plane % 2; x < width; x += 2 {
			out = append(out, pixels[y*width+x])
		}
	}
	return out
}

// clippedLevel is the mean of a map without its outliers.
func clippedLevel(pixels []float32) float64 {
	sd := stats.MADSigma(pixels)
	return spread(pixels, stats.Median(pixels), max(sd/32, 1e-6), 1).Clip().Mean
}

func planesNote(levels []PlaneLevel) []fact.Fact {
	var all []fact.Fact
	code := FirstPlane
	for _, l := range levels {
		all = append(all, fact.Of(code, fact.Text("plane", l.Name), fact.Number("adu", l.Level)))
		code = NextPlane
	}
	return all
}

func (s *Set) warnTemperature(r *stack.Series, code fact.Code) {
	sensor, off := r.Temps()
	if len(off) > 0 && math.Abs(stats.Median(off)) > 1 {
		s.warn(code, fact.Number("from_c", slices.Min(sensor)), fact.Number("to_c", slices.Max(sensor)), fact.Number("off_c", stats.Median(off)))
	}
}
