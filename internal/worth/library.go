package worth

import (
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stats"
)

// Library says whether darks of an earlier date still fit the sensor, by what
// they leave in tonight's subs.
type Library struct {
	Verdict  Validity    // "" with Lacks
	Lacks    fact.Fact   // what is lacking for a verdict
	OfLedger bool        // of the darks there is but the map of hot pixels that the ledger keeps
	Date     string      // of the darks
	Known    int         // hot pixels of the darks that were looked at
	Gone     int         // of them: now less than half as hot
	New      int         // pixels hot now that were not
	All      int         // hot pixels that the darks have where the subs were looked at, listed or not
	Level    stats.Value // dark current of the hot pixels now over then
	Changed  stats.Value // e-, by how much the pattern differs from pixel to pixel
	Pattern  float64     // e-, the pattern itself
}

// Validity is the verdict on a library of darks.
type Validity string

// The verdicts there are.
const (
	StillValid Validity = "still valid"
	ShootAnew  Validity = "shoot new darks"
)

// Limits from which a library is out of date (common practice, no source): a
// fifth of the hot pixels, a tenth of the level, half of the pattern.
const (
	oldHotShare = 0.2
	oldLevel    = 0.1
	oldPattern  = 0.5
)

// Then is what darks of an earlier date showed: from a set of darks that the subs were
// corrected with, or from the map that the ledger keeps of one.
type Then struct {
	Date  string            // of the darks
	Hot   []sensor.HotPixel // e-/s
	All   int               // hot pixels, listed or not
	Rate  float64           // e-/s, of the other pixels
	Taken bool              // off the subs
}

func thenOf(dark *sensor.Set, date string) Then {
	return Then{date, dark.Dark.Hot, dark.Dark.HotCount, dark.Dark.Current.Value.Or(0), true}
}

// fewestKnown is how many hot pixels a map must show in the subs to speak: of fewer a
// fifth is chance.
const fewestKnown = 20

// LibraryOfMap is Library of darks of which there is but a map of hot pixels, and
// which were not taken off the subs: of the pattern it tells nothing. Where a flat was
// taken off the subs it is off the rates of then, too.
func (s *Seen) LibraryOfMap(in Input, then Then) Library {
	l := Library{Date: then.Date, OfLedger: true, Level: stats.Missing(FewHotPixels), Changed: stats.Missing(DarksNotAtHand)}
	if s.subs < fewestSeen {
		l.Lacks = fact.Of(FewSubsOfMap, fact.Count("subs", s.subs))
		return l
	}
	l.compare(s, then, s.common(in.hotFrom()), in.Exposure, in.lightAndReadOut().full)
	if l.Known < fewestKnown {
		l.Lacks = fact.Of(FewHotPixelsSeen, fact.Count("pixels", l.Known))
		return l
	}
	l.decide()
	return l
}

// library compares subs that a set of darks corrected with that set: own is
// the variance of the master's noise, pattern the darks' own, e- of one sub, limit
// how far a pixel may stand off to be no hot one, and full the charge at which pixels saturate.
func (s *Seen) library(dark *sensor.Set, date string, seconds, own, pattern, limit, full float64) Library {
	l := Library{Date: date, Pattern: pattern, Level: stats.Missing(FewHotPixels), Changed: stats.Missing(FewSubs)}
	if s.subs < fewestSeen || dark.Dark.RateUnit != "e-/s" {
		l.Lacks = fact.Of(FewSubsOrNoGain, fact.Count("subs", s.subs))
		return l
	}
	c := s.common(limit)
	l.compare(s, thenOf(dark, date), c, seconds, full)
	left := c.square - own
	l.Changed = stats.Known(math.Sqrt(max(left, 0)), c.squareErr/(2*math.Sqrt(max(left, c.squareErr))), s.subs)
	l.decide()
	return l
}

func (l *Library) decide() {
	l.Verdict = StillValid
	if l.hotOld() || l.LevelOld() || l.PatternOld() {
		l.Verdict = ShootAnew
	}
}

// compare looks up the hot pixels of then, and for new ones.
func (l *Library) compare(s *Seen, then Then, c common, seconds, full float64) {
	old := map[int]bool{} // of pixels that cannot be new
	var product, square, scatter float64
	mean := [2][]float32{s.halves[0].mean(), s.halves[1].mean()}
	sigma := math.Hypot(c.sigma[0], c.sigma[1]) / 2
	limit := 2 * hotInBoth * sigma
	faintest := math.Inf(1) // listed, e- above the other pixels
	for _, h := range then.Hot {
		was := (h.Rate - then.Rate) * seconds
		faintest = min(faintest, was)
		i, ok := s.index(h.X, h.Y)
		if !ok || math.IsNaN(float64(mean[0][i]+mean[1][i])) {
			continue
		}
		old[i] = was >= limit || !then.Taken
		if was < limit {
			continue
		}
		l.Known++
		left := float64(mean[0][i]+mean[1][i]) / 2
		if !then.Taken {
			left -= was
		}
		if left < -was/2 {
			l.Gone++
			continue
		}
		if was > full/2 { // where it would saturate once it is warmer tells nothing of the level
			continue
		}
		w := 1 / (was + sigma*sigma) // shot noise of both
		product, square, scatter = product+w*left*was, square+w*was*was, scatter+1
	}
	l.All = max(l.Known, int(float64(then.All)*s.part))
	if !then.Taken { // those too faint for the list stand out, too
		limit, l.All = max(limit, 2*faintest), l.Known
	}
	l.New = s.fresh(mean, c.sigma, old, limit)
	if scatter >= 5 {
		l.Level = stats.Known(1+product/square, 1/math.Sqrt(square), int(scatter))
	}
}

// fresh counts pixels that stand out in both halves and were not hot.
func (s *Seen) fresh(mean [2][]float32, sigma [2]float64, old map[int]bool, limit float64) int {
	n := 0
	for i := range mean[0] {
		a, b := float64(mean[0][i]), float64(mean[1][i])
		if a > max(hotInBoth*sigma[0], limit) && b > max(hotInBoth*sigma[1], limit) && !old[i] {
			n++
		}
	}
	return n
}

func (l *Library) hotOld() bool {
	known, all := max(float64(l.Known), 1), max(float64(l.All), 1)
	return float64(l.Gone)/known+float64(l.New)/all > oldHotShare*(1+3/math.Sqrt(known))
}

// LevelOld tells that the dark current of the hot pixels has changed.
func (l *Library) LevelOld() bool {
	return l.Level.OK() && math.Abs(l.Level.V-1) > oldLevel+3*l.Level.Err
}

// PatternOld tells that the pattern has changed.
func (l *Library) PatternOld() bool {
	return l.Changed.V > oldPattern*l.Pattern+3*l.Changed.Err
}

// PatternSure tells that a change of the pattern would have been seen.
func (l *Library) PatternSure() bool { return 3*l.Changed.Err < oldPattern*l.Pattern }

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

// LibraryFor is Library of the darks that correct the group, shot on a date.
func (s *Seen) LibraryFor(in Input, date string) Library {
	own := in.flatNoise(s.level(), in.Flat != nil).known
	read := in.lightAndReadOut()
	own += (max(in.DarkRate.Or(0), 0)*in.Exposure + read.read*read.read) / float64(max(framesOf(in.Dark), 1))
	pattern, _ := in.pattern(in.Dark)
	return s.library(in.Dark, date, in.Exposure, own, pattern*in.Exposure, in.hotFrom(), read.full)
}
