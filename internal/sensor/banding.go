package sensor

import (
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/parallel"
	"fitsqa/internal/stats"
)

// banding is how much rows (or columns) differ from one another in one frame,
// beyond what the noise of their pixels gives.
type banding struct {
	ratio       stats.Value // spread of row means in one frame over what white noise would give; 1: none
	fixed, temp float64     // ADU: pattern that stays, and that which changes from frame to frame
}

func (b banding) note(lines string) fact.Fact {
	return fact.Of(BandingParts, fact.Text("lines", lines), fact.Number("fixed_adu", b.fixed), fact.Number("changing_adu", b.temp))
}

// measureBanding compares lines of length pixels: diffs holds the line means of
// the differences of frame pairs, profile those of the mean of n frames. noise
// is that of a pixel in one frame.
func measureBanding(diffs [][]float64, profile []float64, length, n int, noise stats.Value) banding {
	if !noise.OK() {
		return banding{ratio: stats.Because(noise.Why)}
	}
	if len(profile) < stats.Course {
		return banding{ratio: stats.Missing(FrameSmall)}
	}
	white := noise.V * noise.V / float64(length) // variance of a line's mean, one frame
	var temp float64
	for _, d := range diffs {
		s := stats.MADSigma(stats.HighPass(d))
		temp += s * s / 2 / float64(len(diffs))
	}
	total := stats.MADSigma(stats.HighPass(profile))
	// What one frame shows is the pattern that changes and the one that stays;
	// the mean of n frames holds 1/n of the former.
	fixed := max(total*total-temp/float64(n), 0)
	ratio := math.Sqrt((temp + fixed) / white)
	return banding{
		// A robust spread of so many lines is known to 1.17/sqrt(2 lines) (MAD, 37 % efficient).
		ratio: stats.Known(ratio, ratio*1.17/math.Sqrt(float64(len(profile))), noise.N),
		fixed: math.Sqrt(fixed),
		temp:  math.Sqrt(max(temp-white, 0)),
	}
}

// profiles are the mean of every row and every column of a map about centre,
// each pixel clipped at limit so that hot pixels do not make a row.
func profiles(pixels []float32, width int, centre, limit float64, workers int) (rows, cols []float64) {
	height := len(pixels) / width
	rows, cols = make([]float64, height), make([]float64, width)
	lo, hi, c := float32(-limit), float32(limit), float32(centre)
	parts := make([][]float64, parallel.SumParts)
	parallel.Parts(height, workers, func(w, from, to int) {
		part := make([]float64, width)
		for y := from; y < to; y++ {
			sum := 0.0
			for x, p := range pixels[y*width : (y+1)*width] {
				d := float64(min(max(p-c, lo), hi))
				sum += d
				part[x] += d
			}
			rows[y] = sum / float64(width)
		}
		parts[w] = part
	})
	for _, part := range parts {
		for x, v := range part {
			cols[x] += v / float64(height)
		}
	}
	return rows, cols
}
