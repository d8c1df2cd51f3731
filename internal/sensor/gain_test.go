package sensor

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/frames"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
)

// bulb is the truth of flats: a camera of so many pixels under a lamp.
type bulb struct {
	w, h, stride          int
	electrons, gain, read float64
	respond               []float64
}

// newBulb has a response of 0.8 % and corners that get 30 % less light; of a mosaic,
// colours that answer by half, fully and by 0.6.
func newBulb(rng *rand.Rand, b bulb) bulb {
	b.respond = make([]float64, b.w*b.h)
	for i := range b.respond {
		x, y := i%b.w, i/b.w
		u, v := float64(x)/float64(b.w)-0.5, float64(y)/float64(b.h)-0.5
		b.respond[i] = (1 + 0.008*rng.NormFloat64()) * (1 - 0.6*(u*u+v*v))
		if b.stride == 2 {
			b.respond[i] *= [4]float64{0.5, 1, 1, 0.6}[x%2+y%2*2]
		}
	}
	return b
}

// shoot has an offset of 500 ADU and a lamp steady to 1 %; the electrons are many
// enough to be taken for Gaussian.
func (b bulb) shoot(rng *rand.Rand) []uint16 {
	x := make([]uint16, len(b.respond))
	lamp := b.electrons * (1 + 0.01*rng.NormFloat64())
	for i, r := range b.respond {
		x[i] = uint16(math.Round(500 + (lamp*r+math.Sqrt(lamp*r+b.read*b.read)*rng.NormFloat64())/b.gain))
	}
	return x
}

// measure is the gain by n flats.
func (b bulb) measure(rng *rand.Rand, n int) stats.Value {
	f := &flatRun{group: &frames.Group{Width: b.w, Height: b.h}, rawUnit: stack.Scale{Step: 1},
		offset: 500, offsetFrom: "bias", readVar: b.read*b.read/b.gain/b.gain + 1./12, top: topSample}
	before := &stack.Sample{X: b.shoot(rng), Frame: &frames.Frame{}}
	for range n - 1 {
		next := &stack.Sample{X: b.shoot(rng), Frame: &frames.Frame{}}
		f.comparePair(before, next, b.stride == 2, 1)
		before = next
	}
	return f.gain()
}

// The stated error of the gain is that which small frames show, of a handful of blocks
// a colour too.
func TestStatedErrorOfGain(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("sixty cameras for one scatter")
	}
	const seeds = 60
	for _, c := range []bulb{
		{w: 220, h: 176, stride: 1, electrons: 20000, gain: 1.2, read: 5},
		{w: 220, h: 176, stride: 1, electrons: 250, gain: 0.3, read: 3},
		{w: 220, h: 176, stride: 2, electrons: 8000, gain: 1.2, read: 5}, // six blocks a colour
	} {
		rng := rand.New(rand.NewPCG(1, uint64(c.electrons)))
		var sum, square, worst float64
		for range seeds {
			g := newBulb(rng, c).measure(rng, 4)
			z := (g.V - c.gain) / g.Err
			sum += z / seeds
			square += z * z / seeds
			worst = max(worst, math.Abs(z))
		}
		rms := math.Sqrt(square)
		t.Logf("%d x %d, %.0f e-: z is %.2f in the mean, %.2f rms, %.1f at most", c.w, c.h, c.electrons, sum, rms, worst)
		// The rms of 60 is known to 9 %, their mean to 0.13, and one in 10000 is beyond four.
		if rms < 0.75 || rms > 1.25 || math.Abs(sum) > 0.4 || !(worst < 4) {
			t.Errorf("%d x %d, %.0f e-: z is %.2f in the mean, %.2f rms, %.1f at most", c.w, c.h, c.electrons, sum, rms, worst)
		}
	}
}

// The variance of Gaussian blocks is theirs, whatever the clipping takes: what a camera
// of many pixels would show as an error far above the stated one.
func TestClippedVarianceUnbiased(t *testing.T) {
	t.Parallel()
	const n, blocks = pairBlock * pairBlock, 16000
	rng := rand.New(rand.NewPCG(3, 1))
	d := make([]float64, n)
	var off float64
	for range blocks {
		var square float64
		for i := range d {
			d[i] = rng.NormFloat64()
			square += d[i] * d[i] / n // its scatter is mostly the variance's own
		}
		off += (patternFreeVariance(d) - square) / blocks
	}
	if limit := 3 * math.Sqrt(2*(1./patternFreedom-1./n)/blocks); math.Abs(off) > limit {
		t.Errorf("the variance of unit noise is off by %.5f, which chance allows %.5f", off, limit)
	}
}
