package frames

import (
	"fitsqa/internal/fact"
	"fitsqa/internal/names"
)

// half the range of 16 bits is BZERO of those without a sign (FITS 4.0 table 11).
const half = 32768

// checkZero tells whether BZERO can be left over or lost. Programs that turned unsigned
// 16-bit files into floating point often left it standing though the samples are physical
// already; others that edit headers drop it, and dark pixels turn up at the bottom of the
// signed range.
func (f *Frame) checkZero(u *unit) {
	plain := u.scale == 1 && f.look.taken
	f.zeroOpen = plain && u.bitpix < 0 && u.zero == half
	f.zeroLost = plain && u.bitpix == 16 && u.zero == 0 && !u.hasBlank
}

// settleZeros decides once a camera whether its floating-point frames need their
// BZERO: when the samples of one are negative without it, they were stored as
// signed numbers, and those of all were. Frame by frame a flat of 39728 ADU would
// be read as 6960 beside a bias read right. So are frames of whole numbers without BZERO
// those that lost it, where one lies so far below zero as nothing that was taken off
// explains.
func settleZeros(fs []*Frame) {
	const tooLow = -half / 2
	needed, lost := map[names.Name]bool{}, map[names.Name]bool{}
	for _, f := range fs {
		if f.zeroOpen && f.look.median-half < 0 {
			needed[f.Meta.Camera] = true
		}
		if f.zeroLost && f.look.median < tooLow {
			lost[f.Meta.Camera] = true
		}
	}
	for _, f := range fs {
		switch {
		case f.zeroOpen && !needed[f.Meta.Camera]:
			f.addZero(-half, ZeroIgnored)
		case f.zeroLost && lost[f.Meta.Camera]:
			f.addZero(half, ZeroLost)
		}
	}
}

func (f *Frame) addZero(zero float64, why fact.Code) {
	f.zeroAdded = zero
	f.look.shift(zero)
	f.warn(why)
	f.classify(f.headerKind, f.folders)
}
