package sensor

import (
	"math"

	"fitsqa/internal/frames"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
)

// Lent is a master that some program made, in ADU with the camera's offset in it: raw
// darks and flats are held against it where no bias frames, or flat-darks, are.
type Lent struct {
	Group  *frames.Group
	Plane  *stack.Plane
	Frames int // that it is made of; 0 when that is not known
}

// oftenCombined is of how many frames a master of unknown number is taken to be made at
// most, for what the noise of one of them is at most.
const oftenCombined = 100

// Lend hands in masters before Measure.
func (cs *Cameras) Lend(bias, darks []Lent) {
	for _, l := range bias {
		cs.lent = append(cs.lent, l.asBias())
	}
	cs.lentDarks = darks
}

// asBias is a master bias as a set that tells its offset and pattern, and no noise.
func (l Lent) asBias() *biasRun {
	pixels := l.Plane.Pixels()
	kept := SpatialNoise(pixels, l.Group.Width)
	atMost := l.noiseOfOne(kept)
	none := stats.Missing(LoneMaster)
	return &biasRun{
		Series: &stack.Series{Frames: l.Group.Frames, Unit: stack.Whole, Noise: none},
		group:  l.Group, master: l.Plane, kept: kept, atMost: atMost,
		offset:    stats.Known(clippedLevel(pixels), stack.WanderShare*atMost, max(l.Frames, 1)),
		readNoise: none, pattern: none, clipped: none, drift: none,
	}
}

// noiseOfOne is the noise of one frame of a master at most, whose pixels differ from their
// neighbours by so much: as if all of that were noise.
func (l Lent) noiseOfOne(kept float64) float64 {
	n := l.Frames
	if n <= 1 {
		n = oftenCombined
	}
	return kept * math.Sqrt(float64(n))
}

// variance is that of one frame without light, ADU², and its error: of a lent master
// anything up to what its pixels allow.
func (b *biasRun) variance() (v, err float64) {
	switch {
	case b.atMost > 0:
		v = b.atMost * b.atMost / 2
		return v, v
	case b.Noise.OK():
		return b.Noise.V * b.Noise.V, 0
	}
	return 0, 0
}

// masterNoise is what noise the mean of the set's frames keeps, ADU; of a lent master all
// that its pixels differ by, which is more.
func (b *biasRun) masterNoise() stats.Value {
	if b.atMost > 0 {
		return stats.Known(b.kept, 0, len(b.Frames))
	}
	return b.noiseOfOne().Scaled(1 / math.Sqrt(float64(len(b.Frames))))
}
