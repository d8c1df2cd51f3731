// Package plane is the picture that stars are sought in: its background taken
// off, the noise around every place, and which of its pixels may be trusted.
//
// Model: the background is a mesh of clipped modes, bicubic between; the noise
// is white beside it once the offsets of rows and columns that a read-out adds are off
// (banding.go), and photons add to it where the gain is known. Of a colour mosaic only
// the green pixels are measured.
package plane

import (
	"math"
	"math/bits"
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// Plane is a picture on its way through Measure: residual above the background,
// local noise, and which pixels may be trusted.
type Plane struct {
	W, H       int
	R          []float32 // data minus background; 0 where bad
	Mesh       stats.Mesh
	Bad        bitset    // pixels that hold no light: NaN, hot
	HasBad     bool      // some bit of bad is set
	Lone       []int32   // pixels that shine alone: hot ones
	Assumed    bool      // that these are, as too few stars tell how sharp stars are
	Green      int       // -1: mono; else pixels with (x+y)&1 == green are the measured ones, the others interpolated
	Smeared    bool      // interpolated: neighbouring pixels share their noise
	Saturation float64   // data level
	Gain       float64   // e-/unit, NaN unknown
	Step       float64   // between the samples that were recorded, units; 0: unknown, or continuous
	level      []float32 // of a row
	Tops       []float32 // highest value of each row, before the background was subtracted
	rows       []float64 // see Alternation
	columns    lines
	annulus    []float32   // see Annulus
	ripples    [][]float32 // see RandomNoise
	high       marks
	bright     []int32 // pixels of a picture that is no mosaic that may be alone, see DropLone
}

// Measured tells whether pixel x,y is not one that a mosaic had to be filled in at.
func (p *Plane) Measured(x, y int) bool { return p.Green < 0 || (x+y)&1 == p.Green }

// Trusted tells whether pixel x,y was measured, not masked or interpolated.
func (p *Plane) Trusted(x, y int) bool {
	return p.Measured(x, y) && (!p.HasBad || !p.Bad.Get(y*p.W+x))
}

// Density is the share of pixels that carry information.
func (p *Plane) Density() float64 {
	if p.Green >= 0 {
		return 0.5
	}
	return 1
}

// LevelOf is the data value that stood at a pixel before the background was
// subtracted.
func (p *Plane) LevelOf(x, y int) float64 {
	return float64(p.R[y*p.W+x]) + p.Mesh.LevelAt(float64(x), float64(y))
}

// Mask takes hot pixels out of the picture.
func (p *Plane) Mask(hot []int32) {
	for _, i := range hot {
		if i >= 0 && int(i) < len(p.R) {
			p.R[i] = float32(math.NaN())
		}
	}
}

// around is the mean of the good pixels next to a bad one, 0 when there is none.
func (p *Plane) around(x, y int) float32 {
	var sum float32
	n := 0
	for j := max(0, y-1); j <= min(p.H-1, y+1); j++ {
		for i := max(0, x-1); i <= min(p.W-1, x+1); i++ {
			if !p.Bad.Get(j*p.W + i) {
				sum += p.R[j*p.W+i]
				n++
			}
		}
	}
	if n == 0 {
		return 0
	}
	return sum / float32(n)
}

// FindSaturation gives the level at which pixels saturate when the caller does
// not know it: the highest value, when several neighbours share it to within a
// thousandth of the range, which stars that are not cut off never do.
func (p *Plane) FindSaturation() float64 {
	top := slices.Max(p.Tops)
	cut := top - float32(0.001*(float64(top)-float64(p.Mesh.Level[0])))
	flat := 0
	for y, t := range p.Tops {
		if t < cut {
			continue
		}
		p.level = slices.Grow(p.level[:0], p.W)[:p.W]
		p.Mesh.LevelRow(y, p.level)
		before := false
		for x, v := range p.R[y*p.W:][:p.W] {
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

type bitset []uint64

// reset makes room for n pixels, none of them marked; used tells whether any are now.
func (b *bitset) reset(n int, used bool) {
	if used {
		clear(*b)
	}
	n = (n + 63) / 64
	*b = slices.Grow((*b)[:0], n)[:n]
}

func (b bitset) Get(i int) bool { return b[i>>6]>>(i&63)&1 != 0 }
func (b bitset) set(i int)      { b[i>>6] |= 1 << (i & 63) }

func (b bitset) each(f func(int)) {
	for k, word := range b {
		for ; word != 0; word &= word - 1 {
			f(k<<6 + bits.TrailingZeros64(word))
		}
	}
}

// MedianNoise is the noise of the typical cell.
func MedianNoise(m *stats.Mesh) stats.Value {
	var v []float64
	for c, ok := range m.Valid {
		if ok && m.Noise[c] > 0 {
			v = append(v, float64(m.Noise[c]))
		}
	}
	if len(v) == 0 {
		return stats.Missing(stars.NoBackground)
	}
	// A cell's noise from n samples is uncertain by 1/sqrt(2n).
	return stats.Known(stats.Median(v), stats.MedianErr*stats.MADSigma(v)/math.Sqrt(float64(len(v))), len(v))
}

// PixelNoise is the noise of single pixels on a background of level above the
// mesh's: what the nebula's structure scatters is no part of it.
func (p *Plane) PixelNoise(x, y, level float64) float64 {
	return WithPhotons(p.Mesh.NoiseAt(x, y), level, p.Gain)
}

// WithPhotons is a noise with that of light's photons on top, where the gain is
// known (NaN: it is not).
func WithPhotons(noise, light, gain float64) float64 {
	if gain > 0 {
		return math.Sqrt(noise*noise + max(0, light)/gain)
	}
	return noise
}
