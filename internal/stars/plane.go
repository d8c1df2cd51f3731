package stars

import (
	"math"
	"math/bits"
	"slices"

	"fitsqa/internal/stats"
)

// plane is a picture on its way through Measure: residual above the background,
// local noise, and which pixels may be trusted.
type plane struct {
	w, h       int
	r          []float32 // data minus background; 0 where bad
	mesh       stats.Mesh
	bad        bitset    // pixels that hold no light: NaN, hot
	hasBad     bool      // some bit of bad is set
	green      int       // -1: mono; else pixels with (x+y)&1 == green are the measured ones, the others interpolated
	saturation float64   // data level
	gain       float64   // e-/unit, NaN unknown
	level      []float32 // of a row
	halves     []picture // summed over 2x2 px, 4x4, ... as far as they are needed; the first always
	broad      []Star    // places of what was broader than a star: links of a wide track, perhaps
	sharp      int       // how many points of light were left out as hot pixels
	tops       []float32 // highest value of each row, before the background was subtracted
}

// picture is a rectangle of numbers, row by row.
type picture struct {
	data []float32
	w, h int
}

func (p *picture) resize(w, h int) {
	p.w, p.h = w, h
	if cap(p.data) < w*h {
		p.data = stats.Floats(w * h)
	}
	p.data = p.data[:w*h]
}

func (p *picture) row(y int) []float32 { return p.data[y*p.w:][:p.w] }

// measured tells whether pixel x,y is not one that a mosaic had to be filled in at.
func (p *plane) measured(x, y int) bool { return p.green < 0 || (x+y)&1 == p.green }

// trusted tells whether pixel x,y was measured, not masked or interpolated.
func (p *plane) trusted(x, y int) bool {
	return p.measured(x, y) && (!p.hasBad || !p.bad.get(y*p.w+x))
}

// density is the share of pixels that carry information.
func (p *plane) density() float64 {
	if p.green >= 0 {
		return 0.5
	}
	return 1
}

// levelOf is the data value that stood at a pixel before the background was
// subtracted.
func (p *plane) levelOf(x, y int) float64 {
	return float64(p.r[y*p.w+x]) + p.mesh.LevelAt(float64(x), float64(y))
}

// mask takes hot pixels out of the picture.
func (p *plane) mask(hot []int32) {
	for _, i := range hot {
		if i >= 0 && int(i) < len(p.r) {
			p.r[i] = float32(math.NaN())
		}
	}
}

// subtract takes the background off in place, and gives pixels that hold no
// number the mean residual of the good ones around them. All that looks at every
// pixel happens on this one walk, while a row is in the processor's cache: the
// sums over 2x2 px that the search starts from, the pixels that are NaN or
// infinite, and the highest value of each row, which spares later looks for
// saturated pixels most of the frame.
func (p *plane) subtract() {
	p.bad.reset(p.w * p.h)
	p.hasBad = false
	p.tops = p.tops[:0]
	if p.halves == nil {
		p.halves = make([]picture, 1)
	}
	half := &p.halves[0]
	half.resize((p.w+1)/2, (p.h+1)/2)
	whole := picture{p.r, p.w, p.h}
	for y := range p.h {
		p.tops = append(p.tops, p.mesh.SubtractRow(y, whole.row(y)))
		if y%2 == 0 && y+1 < p.h {
			continue // its pair comes
		}
		half.sumRow(&whole, y/2)
		for x, v := range half.row(y / 2) {
			if v-v != 0 {
				p.noteBad(2*x, y&^1)
			}
		}
	}
	if !p.hasBad {
		return
	}
	p.bad.each(func(i int) { p.r[i] = p.around(i%p.w, i/p.w) })
	p.bad.each(func(i int) { half.sumOne(&whole, i%p.w/2, i/p.w/2) })
}

// noteBad marks which of 2x2 px hold no number.
func (p *plane) noteBad(x, y int) {
	for j := y; j < min(y+2, p.h); j++ {
		for i := x; i < min(x+2, p.w); i++ {
			if v := p.r[j*p.w+i]; v-v != 0 {
				p.bad.set(j*p.w + i)
				p.hasBad = true
			}
		}
	}
}

// around is the mean of the good pixels next to a bad one, 0 when there is none.
func (p *plane) around(x, y int) float32 {
	var sum float32
	n := 0
	for j := max(0, y-1); j <= min(p.h-1, y+1); j++ {
		for i := max(0, x-1); i <= min(p.w-1, x+1); i++ {
			if !p.bad.get(j*p.w + i) {
				sum += p.r[j*p.w+i]
				n++
			}
		}
	}
	if n == 0 {
		return 0
	}
	return sum / float32(n)
}

// findSaturation gives the level at which pixels saturate when the caller does
// not know it: the highest value, when several neighbours share it to within a
// thousandth of the range, which stars that are not cut off never do.
func (p *plane) findSaturation() float64 {
	top := slices.Max(p.tops)
	cut := top - float32(0.001*(float64(top)-float64(p.mesh.Level[0])))
	flat := 0
	for y, t := range p.tops {
		if t < cut {
			continue
		}
		p.level = slices.Grow(p.level[:0], p.w)[:p.w]
		p.mesh.LevelRow(y, p.level)
		before := false
		for x, v := range p.r[y*p.w:][:p.w] {
			now := v+p.level[x] >= cut
			if now && before {
				flat++
			}
			before = now
		}
	}
	if flat >= 3 {
		return float64(cut)
	}
	return math.Inf(1)
}

// bitset marks pixels.
type bitset []uint64

func (b *bitset) reset(n int) {
	n = (n + 63) / 64
	if cap(*b) < n {
		*b = make(bitset, n)
		return
	}
	*b = (*b)[:n]
	clear(*b)
}

func (b bitset) get(i int) bool { return b[i>>6]>>(i&63)&1 != 0 }
func (b bitset) set(i int)      { b[i>>6] |= 1 << (i & 63) }

func (b bitset) each(f func(int)) {
	for k, word := range b {
		for ; word != 0; word &= word - 1 {
			f(k<<6 + bits.TrailingZeros64(word))
		}
	}
}

// medianNoise is the noise of the typical cell.
func medianNoise(m *stats.Mesh) stats.Value {
	var v []float64
	for c, ok := range m.Valid {
		if ok && m.Noise[c] > 0 {
			v = append(v, float64(m.Noise[c]))
		}
	}
	if len(v) == 0 {
		return stats.Missing("no part of the frame has a background to measure noise on")
	}
	slices.Sort(v)
	// A cell's noise from n samples is uncertain by 1/sqrt(2n).
	return stats.Known(stats.Median(v), stats.MADSigma(v)*1.2533/math.Sqrt(float64(len(v))), len(v))
}
