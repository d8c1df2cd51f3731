package frames

import (
	"math"
	"slices"
	"sync"

	"fitsqa/internal/stats"
)

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
	if l.fine && l.peak <= 1 && l.values >= manyValues {
		l.parts = partsOf(s.phase[0])
	}
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
	s.cols, s.peak, s.fine = cols, math.Inf(-1), false
	for k := range s.phase {
		s.phase[k] = s.phase[k][:0]
	}
	s.blocks, s.near, s.far, s.whole = s.blocks[:0], s.near[:0], s.far[:0], nil
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
		if i == 0 && r.u.lowByteFirst(s.px) {
			return errLowByteFirst
		}
	}
	f.look = s.look()
	return nil
}

const (
	lookStrips  = 8
	lookRows    = 18
	lookColumns = 2048
	// lookBytes bounds what is unpacked of a compressed file for the look.
	lookBytes = 8 << 20
)
