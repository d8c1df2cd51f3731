package catalogue

import (
	"math"
)

// The sky is cut into bands of one degree of declination, and each band into
// cells about as wide: some 41,000, with 45 stars each. A window of a camera
// covers few, so that few are decoded.
const bands = 180

// bandStart is the number of each band's first cell; the last entry is how many
// cells there are.
var bandStart = func() (start [bands + 1]int) {
	for b := range bands {
		middle := float64(b) - 89.5
		start[b+1] = start[b] + max(1, int(math.Round(360*math.Cos(middle*rad))))
	}
	return start
}()

var cells = bandStart[bands]

func columns(band int) int { return bandStart[band+1] - bandStart[band] }

// cellOf is the cell of a direction, and where in it that is: fractions of its
// width and height, in [0, 1).
func cellOf(ra, dec float64) (cell int, u, v float64) {
	band := min(bands-1, max(0, int(math.Floor(dec+90))))
	v = dec + 90 - float64(band)
	n := columns(band)
	at := ra / 360 * float64(n)
	column := min(n-1, max(0, int(math.Floor(at))))
	return bandStart[band] + column, at - float64(column), v
}

func bandOf(cell int) int {
	lo, hi := 0, bands
	for hi-lo > 1 {
		if mid := (lo + hi) / 2; bandStart[mid] <= cell {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

func cellsNear(ra, dec, radius float64) []int {
	var list []int
	first, last := int(math.Floor(dec-radius+90)), int(math.Floor(dec+radius+90))
	for band := max(0, first); band <= min(bands-1, last); band++ {
		n := columns(band)
		half := halfWidth(dec, radius)
		if half >= 180 {
			for c := range n {
				list = append(list, bandStart[band]+c)
			}
			continue
		}
		from := int(math.Floor((ra - half) / 360 * float64(n)))
		to := int(math.Floor((ra + half) / 360 * float64(n)))
		for c := from; c <= min(to, from+n-1); c++ {
			list = append(list, bandStart[band]+(c%n+n)%n)
		}
	}
	return list
}

// halfWidth is how far a cone reaches to either side in right ascension, degrees;
// 180 when it holds a pole.
func halfWidth(dec, radius float64) float64 {
	if math.Abs(dec)+radius >= 90 {
		return 180
	}
	// The circle's widest point is where a meridian touches it.
	return math.Asin(math.Min(1, math.Sin(radius*rad)/math.Cos(dec*rad))) / rad
}
