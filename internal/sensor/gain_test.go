package sensor

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
)

// bulb is the truth of flats: a camera of so many pixels under a lamp.
type bulb struct {
	w, h, stride          int
	electrons, gain, read float64
	uneven                float64 // sd of the response
	bend                  float64 // share by which the response is low at 60000 e-
	respond               []float64
}

// newBulb has a response of its own and corners that get 30 % less light; of a mosaic,
// colours that answer by half, fully and by 0.6.
func newBulb(rng *rand.Rand, b bulb) bulb {
	b.respond = make([]float64, b.w*b.h)
	for i := range b.respond {
		x, y := i%b.w, i/b.w
		u, v := float64(x)/float64(b.w)-0.5, float64(y)/float64(b.h)-0.5
		b.respond[i] = (1 + b.uneven*rng.NormFloat64()) * (1 - 0.6*(u*u+v*v))
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
		e := lamp*r + math.Sqrt(lamp*r+b.read*b.read)*rng.NormFloat64()
		x[i] = uint16(math.Round(500 + e*(1-b.bend*e/60000)/b.gain))
	}
	return x
}

// flats are n flats and the master of them, of which that of as many bias frames is
// taken off.
func (b bulb) flats(rng *rand.Rand, n int) (*flatRun, []float32) {
	read := b.read*b.read/b.gain/b.gain + 1./12
	meta := frames.Meta{Bayer: map[int]string{1: "", 2: "RGGB"}[b.stride]}
	group := &frames.Group{Width: b.w, Height: b.h, Frames: []*frames.Frame{{Meta: meta}}}
	f := &flatRun{Series: &stack.Series{Unit: stack.Whole}, group: group, detail: &Flat{}, rawUnit: stack.Scale{Step: 1},
		offset: 500, offsetFrom: fact.Of(OffsetOfBias), readVar: read, baseVar: read / float64(n), top: topSample}
	master := make([]float32, b.w*b.h)
	var before *stack.Sample
	for range n {
		next := &stack.Sample{X: b.shoot(rng), Frame: &frames.Frame{Meta: meta}}
		if before != nil {
			f.comparePair(before, next, b.stride == 2, 1)
		}
		before = next
		light := stats.HistogramOf(next.X).Quantile(0.5) - f.offset
		f.used, f.Frames = append(f.used, flatShot{light: light}), append(f.Frames, next.Frame)
		for i, v := range next.X {
			master[i] += float32((float64(v) - f.offset) / light * flatScale / float64(n))
		}
	}
	level := f.used[0].light // the lamp is steady enough for the base's noise
	for i := range master {
		master[i] += float32(math.Sqrt(f.baseVar) * rng.NormFloat64() / level * flatScale)
	}
	f.Noise = f.pixelNoise()
	f.firstLevel = Normalise(master, group)[0] / flatScale
	return f, master
}

// deviates are by how many of their stated errors figures are off.
type deviates struct{ n, sum, square, worst float64 }

func (d *deviates) add(v stats.Value, truth float64) {
	z := (v.V - truth) / v.Err // NaN where there is none
	d.n, d.sum, d.square, d.worst = d.n+1, d.sum+z, d.square+z*z, max(d.worst, math.Abs(z))
}

// check allows for 60: their rms is known to 9 %, their mean to 0.13, and one in 10000
// is beyond four. Of so few pairs the errors are a tenth too large: the larger of what
// their noise and what their scatter tells.
func (d *deviates) check(t *testing.T, what string) {
	mean, rms := d.sum/d.n, math.Sqrt(d.square/d.n)
	t.Logf("%s: z is %.2f in the mean, %.2f rms, %.1f at most", what, mean, rms, d.worst)
	if !(rms > 0.65 && rms < 1.25 && math.Abs(mean) < 0.4 && d.worst < 4) {
		t.Errorf("%s: z is %.2f in the mean, %.2f rms, %.1f at most", what, mean, rms, d.worst)
	}
}

// The stated errors of gain and response are those which small frames show, of a handful
// of blocks a colour too, and of faint flats.
func TestStatedErrorsOfFlats(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("sixty cameras for one scatter")
	}
	const seeds = 60
	for _, c := range []bulb{
		{w: 220, h: 176, stride: 1, electrons: 20000, gain: 1.2, read: 5, uneven: 0.008},
		{w: 220, h: 176, stride: 1, electrons: 250, gain: 0.3, read: 3, uneven: 0.02},
		{w: 220, h: 176, stride: 2, electrons: 8000, gain: 1.2, read: 5, uneven: 0.008}, // six blocks a colour
	} {
		rng := rand.New(rand.NewPCG(1, uint64(c.electrons)))
		var gain, response deviates
		for range seeds {
			f, master := newBulb(rng, c).flats(rng, 4)
			f.measurePRNU(master, 1)
			gain.add(f.gain(), c.gain)
			response.add(f.prnu, 100*c.uneven)
		}
		gain.check(t, fmt.Sprintf("gain of %d x %d, %.0f e-", c.w, c.h, c.electrons))
		response.check(t, fmt.Sprintf("response of %d x %d, %.0f e-", c.w, c.h, c.electrons))
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
	if limit := 3 * math.Sqrt(2*(1./patternFreedom-1./n)/blocks); !(math.Abs(off) <= limit) {
		t.Errorf("the variance of unit noise is off by %.5f, which chance allows %.5f", off, limit)
	}
}

// A response that bends by 6 % makes the gain of bright flats 10 % high. Flats of two
// levels show that; those of one cannot, and the figure says so.
func TestBentResponse(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		bend      float64
		levels    []float64
		says, not fact.Code
	}{
		{0.06, []float64{30000}, GainOneLevel, CurveOff},
		{0.06, []float64{10000, 38000}, GainUnbent, GainOneLevel},
		{0.06, []float64{10000, 30000, 38000}, CurveBends, CurveOff},
		{0, []float64{10000, 38000}, CurveGives, GainUnbent},
	} {
		rng := rand.New(rand.NewPCG(5, 1))
		m := &mode{saturation: 50000, header: math.NaN()}
		for _, electrons := range c.levels {
			f, _ := newBulb(rng, bulb{w: 400, h: 300, stride: 1, electrons: electrons, gain: 1.2, read: 5, uneven: 0.008, bend: c.bend}).flats(rng, 4)
			m.transfer = append(m.transfer, f.points...)
		}
		m.fitTransfer()
		m.measureGain()
		s := NewSet(KindCamera, "")
		m.warn(s, &Cameras{})
		var said []fact.Code
		for _, f := range append(m.gainFacts(), s.Warnings...) {
			said = append(said, f.Code)
		}
		t.Logf("bend %g, flats of %v e-: gain %.3f ± %.3f, %v", c.bend, c.levels, m.measured.V, m.measured.Err, said)
		if off := math.Abs(m.measured.V - 1.2); len(c.levels) > 1 && off > 4*m.measured.Err {
			t.Errorf("bend %g, flats of %v e-: gain is %.3f ± %.3f of 1.2", c.bend, c.levels, m.measured.V, m.measured.Err)
		}
		if !slices.Contains(said, c.says) || slices.Contains(said, c.not) {
			t.Errorf("bend %g, flats of %v e-: %v is said, of which %s is due and %s is not", c.bend, c.levels, said, c.says, c.not)
		}
	}
}
