package frames

import (
	"fmt"
	"math"
	"slices"
	"sync"

	"fitsqa/internal/fact"
	"fitsqa/internal/stats"
)

// look is what a few strips of pixels show, cheaply: enough to tell bias, dark,
// flat and sub apart and to check a claimed colour pattern, not to measure.
type look struct {
	taken   bool
	median  float64    // level, in physical units
	noise   float64    // of 2x2 blocks, from neighbours along the rows
	peak    float64    // brightest pixel
	stars   int        // peaks that spill into their neighbours
	phases  [4]float64 // median of the pixels at (even, even), (odd, even), (even, odd), (odd, odd)
	samples int        // pixels in each phase
	spread  float64    // robust sigma within a phase

	fine         bool    // values between the whole numbers occur
	values       int     // different values among the blocks, counted up to manyValues
	near, far    float64 // mean squared difference of pixels 1 and 2 px apart, over that of distant ones
	along, cross float64 // typical difference of neighbouring blocks along the rows and across them
}

// manyValues is more than a map of flags has.
const manyValues = 5

// numbers are what a look that was taken is remembered by.
func (l *look) numbers() []float64 {
	fine := 0.0
	if l.fine {
		fine = 1
	}
	return []float64{l.median, l.noise, l.peak, float64(l.stars), l.phases[0], l.phases[1], l.phases[2], l.phases[3], float64(l.samples), l.spread,
		float64(l.values), l.near, l.far, l.along, l.cross, fine}
}

// recall is the inverse of numbers; false when they are not such.
func (l *look) recall(n []float64) bool {
	if len(n) != 16 {
		return false
	}
	*l = look{true, n[0], n[1], n[2], int(n[3]), [4]float64(n[4:8]), int(n[8]), n[9], n[15] == 1, int(n[10]), n[11], n[12], n[13], n[14]}
	return true
}

const (
	lookStrips  = 8
	lookRows    = 18
	lookColumns = 2048
	// lookBytes bounds what is unpacked of a compressed file for the look.
	lookBytes = 8 << 20
)

// takeLook reads the strips through a reader at the image's first row. Where nothing else
// names the frame's kind, narrow stars are sought as well. An image that cannot be read to
// there gives the error of Read.
func (f *Frame) takeLook(r *Reader, unnamed bool) error {
	height := r.Height
	if r.src.gz != nil || r.u.tiles != nil {
		height = min(height, max(lookRows, lookBytes/int(r.stride())))
	}
	rows := min(lookRows, height)
	strips := min(lookStrips, height/rows)
	step := max(2, height/strips&^1)
	cols := min(r.Width, lookColumns)
	x0 := (r.Width - cols) / 2 &^ 1
	s := spareSums.Get().(*lookSums)
	defer spareSums.Put(s)
	s.reset(cols)
	s.unnamed = unnamed
	at := 0
	for i := range strips {
		y := min(i*step, height-rows) &^ 1
		if y < at {
			break
		}
		r.Skip(y - at)
		n, err := r.Rows(&s.im, rows)
		if err != nil {
			return err
		}
		at = y + n
		s.add(&s.im, x0, cols)
	}
	f.look = s.look()
	return nil
}

// lookSums gathers what the strips show. It is used again from frame to frame: to
// touch fresh memory takes as long as to look at the pixels.
type lookSums struct {
	cols   int
	phase  [4][]float32
	blocks [][]float32 // strips of 2x2 block means, row after row
	peak   float64
	fine   bool
	near   []float64 // see shares
	far    []float64

	unnamed bool        // nothing but pixels tells the frame's kind
	whole   [][]float32 // if so, the strips pixel by pixel

	im     Image // scratch, as the next ones: a strip,
	px     []float32
	cell   []float32
	values []float32
}

var spareSums = sync.Pool{New: func() any { return new(lookSums) }}

// reset begins another frame.
func (s *lookSums) reset(cols int) {
	s.cols, s.peak, s.fine = cols, math.Inf(-1), false
	for k := range s.phase {
		s.phase[k] = s.phase[k][:0]
	}
	s.blocks, s.near, s.far, s.whole = s.blocks[:0], s.near[:0], s.far[:0], nil
}

// newStrip is room for one more strip of blocks.
func (s *lookSums) newStrip() []float32 {
	if n := len(s.blocks); n < cap(s.blocks) {
		return s.blocks[:n+1][n][:0]
	}
	return nil
}

func (s *lookSums) add(im *Image, x0, cols int) {
	px := s.window(im, x0, cols)
	s.shares(px, cols)
	if s.unnamed {
		s.whole = append(s.whole, slices.Clone(px))
	}
	strip := s.newStrip()
	w := cols / 2
	for y := 0; y+1 < im.Height; y += 2 {
		lower, upper := px[y*cols:][:2*w], px[(y+1)*cols:][:2*w]
		for _, row := range [2][]float32{lower, upper} {
			top, _ := stats.TopOfRow(row)
			s.peak = max(s.peak, float64(top))
		}
		for x := 2 * ((5 - y/2%5) % 5); x < 2*w; x += 2 * 5 { // a fifth is plenty for medians
			s.addPhases([4]float32{lower[x], lower[x+1], upper[x], upper[x+1]})
		}
		strip = slices.Grow(strip, w)[:len(strip)+w]
		means := strip[len(strip)-w:]
		stats.AddPairs(means, lower, upper)
		for i := range means {
			means[i] /= 4
		}
	}
	s.blocks = append(s.blocks, strip)
}

// window is the columns from x0 on of a strip, row after row; valid until the next.
func (s *lookSums) window(im *Image, x0, cols int) []float32 {
	s.px = s.px[:0]
	for y := range im.Height {
		at := y*im.Width + x0
		if im.U16 == nil {
			s.px = append(s.px, im.F32[at:at+cols]...)
			continue
		}
		for _, v := range im.U16[at : at+cols] {
			s.px = append(s.px, float32(v))
		}
	}
	return s.px
}

// addPhases takes in a block's pixels, each for its phase.
func (s *lookSums) addPhases(p [4]float32) {
	for k, v := range p {
		if v == v {
			s.phase[k] = append(s.phase[k], v)
			s.fine = s.fine || float64(v) != math.Trunc(float64(v))
		}
	}
}

func (s *lookSums) look() look {
	l := look{peak: s.peak}
	if len(s.phase[0]) < 16 {
		return l
	}
	l.taken = true
	l.samples = len(s.phase[0])
	l.spread = stats.MADSigma(s.phase[0])
	for k := range s.phase {
		l.phases[k] = stats.MedianInPlace(s.phase[k])
	}
	l.median = stats.Mean(l.phases[:])
	l.fine = s.fine
	w := s.cols / 2
	diffs := s.values[:0]
	for _, strip := range s.blocks {
		for i := 1; i < len(strip); i += 3 {
			if d := strip[i] - strip[i-1]; i%w != 0 && d == d {
				diffs = append(diffs, max(d, -d))
			}
		}
	}
	s.values = diffs
	if len(diffs) == 0 {
		return look{}
	}
	l.noise = stats.MedianInPlace(diffs) * 1.4826 / math.Sqrt2
	s.structure(&l)
	for _, strip := range s.blocks {
		l.stars += countStars(strip, w, max(l.noise, l.atLeast(0.3)))
	}
	if !l.starry() {
		l.stars = max(l.stars, s.narrowStars(2*max(l.noise, l.atLeast(0.3)))) // a block of four has half a pixel's noise
	}
	return l
}

// structure takes what tells pictures from maps, spectra and resampled frames.
func (s *lookSums) structure(l *look) {
	l.near, l.far = typical(s.near), typical(s.far)
	seen := map[float32]bool{}
	for _, strip := range s.blocks {
		for i := 0; i < len(strip) && len(seen) < manyValues; i += 2 {
			if v := strip[i]; v == v {
				seen[v] = true
			}
		}
	}
	l.values = len(seen)
	l.along, l.cross = s.differing(1), s.differing(s.cols/2)
}

// differing is the typical difference of blocks from those so many further on in their
// strip; the last of a row is left out, which has no neighbour.
func (s *lookSums) differing(by int) float64 {
	w := s.cols / 2
	s.values = s.values[:0]
	for _, strip := range s.blocks {
		for i := 0; i+w < len(strip); i += 7 { // some thousands tell a median
			if i%w+1 < w {
				d := strip[i+by] - strip[i]
				s.values = append(s.values, max(d, -d))
			}
		}
	}
	return typical(s.values)
}

// typical is the median; 0 of nothing.
func typical[T stats.Float](x []T) float64 {
	x = slices.DeleteFunc(x, func(v T) bool { return v != v })
	if len(x) == 0 {
		return 0
	}
	return stats.MedianInPlace(x)
}

// countStars counts local maxima 8 sigma above their surroundings of which all
// four neighbours are raised too. A hot pixel or a particle hit raises its own
// block only.
func countStars(px []float32, w int, sigma float64) int {
	n := 0
	quick := float32(4 * sigma)
	for y := 2; y < len(px)/w-2; y++ {
		for x := 2; x < w-2; x++ {
			i := y*w + x
			v := px[i]
			if v-px[i-2] < quick || v-px[i+2] < quick { // nearly all end here
				continue
			}
			near := [4]float32{px[i-1], px[i+1], px[i-w], px[i+w]}
			if !(v >= near[0] && v > near[1] && v >= near[2] && v > near[3]) {
				continue
			}
			ring := []float32{px[i-2-2*w], px[i-2*w], px[i+2-2*w], px[i-2], px[i+2], px[i-2+2*w], px[i+2*w], px[i+2+2*w]}
			back := stats.MedianInPlace(ring)
			height := float64(v) - back
			if !(height > 8*sigma) {
				continue
			}
			raised := 0
			for _, q := range near {
				if float64(q)-back > max(3*sigma, 0.08*height) {
					raised++
				}
			}
			if raised == 4 {
				n++
			}
		}
	}
	return n
}

// starry tells whether several stars were seen.
func (l look) starry() bool { return l.taken && l.stars >= 3 }

// bright tells whether the level is that of a flat: an eighth of 16 bits, or
// of the range of floating-point data scaled to 1.
func (f *Frame) bright() bool {
	l := f.look
	return l.taken && (l.median > 8000 || f.Image.Bitpix < 0 && l.peak <= 1 && l.median > 0.125)
}

// flatLike tells whether the frame is bright, starless, and varies no more
// than vignetting makes a flat vary.
func (f *Frame) flatLike() bool {
	return f.bright() && !f.look.starry() && f.look.spread < 0.3*f.look.median
}

// uneven tells whether the level varies over the frame by more than noise
// explains (a block of four has half a pixel's noise): something glows or was
// imaged.
func (l look) uneven() bool { return l.taken && l.spread > 6*max(l.noise, l.atLeast(0.5)) }

// atLeast is the least noise that whole numbers can show: their median difference can be 0.
func (l look) atLeast(noise float64) float64 {
	if l.fine {
		return 0
	}
	return noise
}

// kindFromPixels judges by pixels and exposure alone.
func (f *Frame) kindFromPixels() Kind {
	l, t := f.look, f.Meta.Exposure
	switch {
	case !l.taken:
		return Unknown
	case f.flatLike():
		return Flat
	case l.starry() && !(t < maxBiasExposure/10.):
		return Light
	case l.starry():
		return Unknown
	case t < maxBiasExposure/10. && !l.uneven(): // else perhaps a short, dim flat
		return Bias
	case t >= maxBiasExposure && (l.uneven() || !math.IsNaN(f.Meta.RA)):
		return Light // nothing points a telescope for a dark
	case t >= maxBiasExposure:
		return Dark
	}
	return Unknown
}

// checkBayer compares the claimed colour pattern with the pixels: the two
// green planes have the same level, red and blue hardly ever have.
func (f *Frame) checkBayer() {
	l := f.look
	if !l.taken || f.Image.Planes != 1 || l.samples < 100 {
		return
	}
	main := math.Abs(l.phases[0] - l.phases[3]) // (0,0) and (1,1)
	anti := math.Abs(l.phases[1] - l.phases[2])
	// Standard error of the difference of two medians: sqrt(2) x MedianErr x sigma/sqrt(n).
	limit := 5 * math.Sqrt2 * stats.MedianErr * l.spread / math.Sqrt(float64(l.samples))
	green := "" // a pattern with green where the pixels show it
	switch {
	case anti > limit && anti > 3*main:
		green = "GRBG"
	case main > limit && main > 3*anti:
		green = "RGGB"
	default:
		return
	}
	if f.Meta.Bayer == "" {
		// No claim: only a clear mosaic counts, in a frame that saw light.
		off := l.offGreen(greenFirst(green))
		if f.Kind != Bias && f.Kind != Dark && off > 0.01*math.Abs(l.median) && off > 4*limit {
			f.Meta.Bayer = green
			f.warn(MosaicUnclaimed, fact.Text("pattern", green))
		}
		return
	}
	if greenFirst(f.Meta.Bayer) == greenFirst(green) || f.Kind == Bias || f.Kind == Dark { // what these show is no light's
		return
	}
	was := f.Meta.Bayer
	f.Meta.Bayer = shiftBayer(was, 1, 0)
	shown := 0
	if greenFirst(green) {
		shown = 1
	}
	f.warn(MosaicOther, fact.Text("claimed", was), fact.Count("green_first", shown), fact.Text("pattern", f.Meta.Bayer))
}

// offGreen is how far red or blue, whichever is further, lies from the mean of
// the green planes.
func (l look) offGreen(first bool) float64 {
	g, r, b := (l.phases[0]+l.phases[3])/2, l.phases[1], l.phases[2]
	if !first {
		g, r, b = (l.phases[1]+l.phases[2])/2, l.phases[0], l.phases[3]
	}
	return max(math.Abs(g-r), math.Abs(g-b))
}

func (l *look) shift(by float64) {
	l.median += by
	l.peak += by
	for k := range l.phases {
		l.phases[k] += by
	}
}

// String is for test failures.
func (l look) String() string {
	return fmt.Sprintf("median %.1f noise %.2f spread %.2f peak %.0f stars %d phases %.1f", l.median, l.noise, l.spread, l.peak, l.stars, l.phases)
}
