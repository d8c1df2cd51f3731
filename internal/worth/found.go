package worth

import (
	"math"
	"slices"

	"fitsqa/internal/stats"
)

// Found is what subs without darks tell of the sensor, in e- of one sub.
type Found struct {
	Pattern stats.Value // pixel to pixel, what the correction brings itself taken off
	AtMost  float64     // limit of three sigma on it
	Hot     []float64   // e- a sub above the surroundings, ascending
	Glow    SeenGlow
	Pixels  float64     // of the frame
	Part    float64     // of the frame that was looked at and not hidden by stars: what Hot was found in
	Lifted  stats.Value // by how much a flat that divides the dark current too brightens the corners, % of the sky
}

// fewestSeen is how many subs it takes: in halves of fewer, particle hits and
// satellites weigh too much.
const fewestSeen = 6

// doubtAllowed is the share of the pattern's square that something else may be:
// a tenth makes the pattern wrong by 5 %.
const doubtAllowed = 0.1

// brought is the variance that a correction itself brings into every sub alike, e-².
type brought struct {
	known, err float64
	doubtful   float64 // what it may bring beside
}

// found compares the halves. own is what the correction brings, limit how far a
// pixel may stand off to be no hot one, e-.
func (s *Seen) found(own brought, limit float64) Found {
	f := Found{Pattern: stats.Missing(FewSubs), Lifted: stats.Missing(NotWeighed), AtMost: math.NaN(), Part: s.part, Pixels: float64(s.width*s.height*s.planes) / s.part}
	if s.subs < fewestSeen {
		return f
	}
	c := s.common(limit)
	if c.n < 1000 {
		f.Pattern = stats.Missing(StarsCover)
		return f
	}
	square, err := c.square-own.known, math.Hypot(c.squareErr, own.err)
	f.AtMost = math.Sqrt(max(square, 0) + 3*err) // what leaks in only adds
	f.Pattern = stats.Missing(HiddenInSubs)
	if square > 3*err+c.leak && own.doubtful < doubtAllowed*square {
		v := math.Sqrt(square)
		f.Pattern = stats.Known(v, math.Hypot(err, c.leak/2)/(2*v), s.subs)
	}
	f.Part *= c.present
	f.countHot(c.hot)
	f.Glow = s.glow()
	return f
}

// countHot sorts the pixels that stand out: those above, for what lies as far below is what a
// dark has and the sensor no longer.
func (f *Found) countHot(found []float64) {
	f.Hot = slices.DeleteFunc(found, func(e float64) bool { return e < 0 })
	slices.Sort(f.Hot)
}

// level is the subs' own in the mean, e- of one sub, rms over the cells: those under
// a bright sky count as they do in the halves.
func (s *Seen) level() float64 {
	square := 0.0
	for _, c := range s.cells {
		square += c * c / float64(len(s.cells))
	}
	return math.Sqrt(square) / float64(max(s.subs, 1))
}

// usualUneven is the unequal response of pixels where no flat tells, a share of
// the light (common practice, no source).
const usualUneven = 0.01

// DarksTell tells whether any darks tell of the sensor at the subs' temperature.
func (in Input) DarksTell() bool {
	sets := in.darkSets()
	return len(sets) > 0 && !in.astray(in.best(sets))
}

// FoundFor is Found with what the group's correction brings: the master bias's
// noise, and the master flat's carried by the sky.
func (s *Seen) FoundFor(in Input, flattened bool) Found {
	own := in.flatNoise(s.level(), flattened)
	if b := in.biases(); b > 0 {
		read := in.lightAndReadOut().read
		own.known += read * read / float64(b)
	} else {
		own.doubtful = math.Inf(1) // the offset's own pattern is in
	}
	return s.found(own, in.hotFrom())
}

// hotFrom is the signal from which darks call a pixel hot, e-: its own shot
// noise exceeds the read noise.
func (in Input) hotFrom() float64 { return in.ReadNoise.V * in.ReadNoise.V }

// flatNoiseKnown is how well the variance that a master flat brings is known, a share:
// it is that of the frame's middle, and grows to the corners as the light falls off
// (own estimate, for a fall-off by a fifth).
const flatNoiseKnown = 0.1

// flatNoise is what the master flat brings into every sub alike, and what the
// lack of one may, by the subs' level.
func (in Input) flatNoise(signal float64, flattened bool) (own brought) {
	if !flattened {
		own.doubtful = math.Pow(usualUneven*signal, 2)
	} else if in.Flat != nil {
		if snr := in.Flat.Flat.SNR; snr.OK() {
			own.known = math.Pow(signal/snr.V, 2)
			own.err = flatNoiseKnown * own.known
		}
	}
	return own
}
