package tiled

import (
	"encoding/binary"
	"math"
)

// randoms is the fixed table of 10000 random numbers of FITS 4.0 appendix I,
// by the generator of Park and Miller (1988): seed' = 16807 seed mod 2^31-1.
var randoms = func() (r [10000]float32) {
	seed := uint64(1)
	for i := range r {
		seed = seed * 16807 % 2147483647
		r[i] = float32(float64(seed) / 2147483647)
	}
	return r
}()

// quantiser turns a tile's integers back into floating point, FITS 4.0
// section 10.2: F = (I - R + 0.5) scale + zero with dither, I scale + zero
// without.
type quantiser struct {
	scale, zero float64
	dither      int // 0, 1 or 2
	blank       int32
	start       int // first of randoms to use
	seed        int // index in randoms that chose start
}

// startDither sets the place in the table for a tile, whose number counts from 1.
func (q *quantiser) startDither(tile int64, dither0 int) {
	if q.dither == 0 {
		return
	}
	q.seed = int((tile - 1 + int64(dither0) - 1) % int64(len(randoms)))
	q.start = int(randoms[q.seed] * 500)
}

const (
	nullPixel = math.MinInt32 + 1 // -2147483647: written for NaN, also where ZBLANK is not said
	zeroPixel = math.MinInt32 + 2 // -2147483646: exactly 0 in SUBTRACTIVE_DITHER_2
)

// value is the sample that an integer stands for, and moves on in the table.
func (q *quantiser) value(i int32) float64 {
	r := 0.5
	if q.dither != 0 {
		r = float64(randoms[q.start])
		if q.start++; q.start == len(randoms) {
			if q.seed++; q.seed == len(randoms) {
				q.seed = 0
			}
			q.start = int(randoms[q.seed] * 500)
		}
	}
	switch {
	case i == q.blank || i == nullPixel:
		return math.NaN()
	case i == zeroPixel && q.dither == 2 && !math.IsNaN(q.scale):
		return 0
	}
	return (float64(i)-r+0.5)*q.scale + q.zero
}

// float32s writes the samples of integers as big-endian 32-bit floats.
func (q *quantiser) float32s(dst []byte, ints []uint32) {
	for i, v := range ints {
		binary.BigEndian.PutUint32(dst[4*i:], math.Float32bits(float32(q.value(int32(v)))))
	}
}

// float64s writes them as big-endian 64-bit floats.
func (q *quantiser) float64s(dst []byte, ints []uint32) {
	for i, v := range ints {
		binary.BigEndian.PutUint64(dst[8*i:], math.Float64bits(q.value(int32(v))))
	}
}
