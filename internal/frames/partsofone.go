package frames

import (
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/names"
)

// sixteenBits are what programs divide samples of 16 bits by.
var sixteenBits = []float64{65535, 65536}

// divisionRounding is what single precision leaves between a whole number and 65535 times
// its part of 1: 0.004, with room for a second rounding.
const divisionRounding = 0.01

// partsOf is what all of some samples between 0 and 1 were divided by; 0 where not all
// come to whole numbers.
func partsOf(px []float32) float64 {
	for _, one := range sixteenBits {
		if !slices.ContainsFunc(px, func(v float32) bool { return !isPart(float64(v), one) }) {
			return one
		}
	}
	return 0
}

func isPart(v, one float64) bool { return math.Abs(v*one-math.Round(v*one)) < divisionRounding }

// settleParts decides once a camera whether frames between 0 and 1 are read as the whole
// numbers that were divided: where others of it were left as they are, beside which these
// would show no light at all. Where all are parts of 1 they fit one another as they are.
func settleParts(fs []*Frame) {
	undivided := map[names.Name]bool{}
	for _, f := range fs {
		if f.look.taken && !f.look.fine && f.look.peak > 1 {
			undivided[f.Meta.Camera] = true
		}
	}
	for _, f := range fs {
		if f.look.parts > 0 && undivided[f.Meta.Camera] {
			f.parts = f.look.parts
			f.look.magnify(f.parts)
			f.warnOf([]fact.Fact{fact.Of(Divided, fact.Number("by", f.parts))})
			f.classify(f.headerKind, f.folders)
		}
	}
}

// undivide reads samples as whole numbers that were divided by one; by 0: as they are.
func (u *unit) undivide(one float64) {
	if one > 0 {
		u.scale, u.zero, u.whole = u.scale*one, u.zero*one, true
	}
}

// partsOfOne forgets the e-/ADU of headers whose samples are parts of 1 that nothing tells:
// of the frame's own brightest pixel, say. A sample is no ADU any more, and by the old
// figure all photon noise would be huge.
func partsOfOne(fs []*Frame) {
	for _, f := range fs {
		l := f.look
		if f.Err == nil && !f.Master && f.Image.Bitpix < 0 && l.taken && l.fine && l.peak <= 1 && f.Meta.ElectronsPerADU > 0 {
			f.Meta.ElectronsPerADU = math.NaN()
			f.warn(GainOfWhole)
		}
	}
}
