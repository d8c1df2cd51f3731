package worth

import (
	"math"

	"fitsqa/internal/calib"
	"fitsqa/internal/stats"
)

// Library says whether darks of an earlier date still fit the sensor, by what
// they leave in tonight's subs.
type Library struct {
	Verdict  string // "still valid", "shoot new darks", or "" with Why
	Why      string
	Sentence string
	Date     string      // of the darks
	Known    int         // hot pixels of the darks that were looked at
	Gone     int         // of them: now less than half as hot
	New      int         // pixels hot now that were not
	All      int         // hot pixels that the darks have where the subs were looked at, listed or not
	Level    stats.Value // dark current of the hot pixels now over then
	Changed  stats.Value // e-, by how much the pattern differs from pixel to pixel
	Pattern  float64     // e-, the pattern itself
}

// Limits from which a library is out of date (common practice, no source): a
// fifth of the hot pixels, a tenth of the level, half of the pattern.
const (
	oldHotShare = 0.2
	oldLevel    = 0.1
	oldPattern  = 0.5
)

// Library compares subs that a set of darks corrected with that set: own is
// the variance of the master's noise, pattern the darks' own, e- of one sub, limit
// how far a pixel may stand off to be no hot one, and full the charge at which pixels saturate.
func (s *Seen) Library(dark *calib.Set, date string, seconds, own, pattern, limit, full float64) Library {
	l := Library{Date: date, Pattern: pattern, Level: stats.Missing("too few hot pixels"), Changed: stats.Missing("too few subs")}
	if s.subs < fewestSeen || dark.Dark == nil || dark.Dark.RateUnit != "e-/s" {
		l.Why = "it takes six subs and a known gain"
		return l
	}
	c := s.common(limit)
	known := map[int]bool{}
	var product, square, scatter float64
	mean := [2][]float32{s.halves[0].mean(), s.halves[1].mean()}
	sigma := math.Hypot(c.sigma[0], c.sigma[1]) / 2
	for _, h := range dark.Dark.Hot {
		i, ok := s.index(h.X, h.Y)
		if !ok || math.IsNaN(float64(mean[0][i]+mean[1][i])) {
			continue
		}
		then := (h.Rate - valueOr(dark.Metric("dark_current_e_per_s"), 0)) * seconds // above the other pixels
		if then < 2*hotInBoth*sigma {
			continue
		}
		known[i] = true
		left := float64(mean[0][i]+mean[1][i]) / 2
		if left < -then/2 {
			l.Gone++
			continue
		}
		if then > full/2 { // where it would saturate once it is warmer tells nothing of the level
			continue
		}
		w := 1 / (then + sigma*sigma) // shot noise of both
		product, square, scatter = product+w*left*then, square+w*then*then, scatter+1
	}
	l.Known = len(known)
	l.All = max(l.Known, int(float64(dark.Dark.HotCount)*s.part))
	l.New = s.fresh(mean, c.sigma, known, 2*hotInBoth*sigma)
	if scatter >= 5 {
		l.Level = stats.Known(1+product/square, 1/math.Sqrt(square), int(scatter))
	}
	left := c.square - own
	l.Changed = stats.Known(math.Sqrt(max(left, 0)), c.squareErr/(2*math.Sqrt(max(left, c.squareErr))), s.subs)
	l.Verdict = "still valid"
	if l.hotOld() || l.levelOld() || l.patternOld() {
		l.Verdict = "shoot new darks"
	}
	l.Sentence = l.words()
	return l
}

// fresh counts pixels that stand out in both halves and were not hot.
func (s *Seen) fresh(mean [2][]float32, sigma [2]float64, known map[int]bool, limit float64) int {
	n := 0
	for i := range mean[0] {
		a, b := float64(mean[0][i]), float64(mean[1][i])
		if a > max(hotInBoth*sigma[0], limit) && b > max(hotInBoth*sigma[1], limit) && !known[i] {
			n++
		}
	}
	return n
}

func (l *Library) hotOld() bool {
	known, all := max(float64(l.Known), 1), max(float64(l.All), 1)
	return float64(l.Gone)/known+float64(l.New)/all > oldHotShare*(1+3/math.Sqrt(known))
}

func (l *Library) levelOld() bool {
	return l.Level.OK() && math.Abs(l.Level.V-1) > oldLevel+3*l.Level.Err
}

func (l *Library) patternOld() bool {
	return l.Changed.V > oldPattern*l.Pattern+3*l.Changed.Err
}

// index of a pixel of the frame among those looked at.
func (s *Seen) index(x, y int) (int, bool) {
	row, ok := s.rowOf[y]
	if !ok {
		return 0, false
	}
	block, row := row/s.block, row%s.block
	first := block * s.width * s.height
	if !s.mosaic {
		return first + row*s.width + x, x < s.width
	}
	if x/2 >= s.width {
		return 0, false
	}
	return 4*first + (row%2*2+x%2)*s.width*s.height + row/2*s.width + x/2, true
}
