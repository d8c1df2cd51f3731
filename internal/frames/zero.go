package frames

import "fitsqa/internal/names"

// checkZero tells whether BZERO of floating-point samples can be left over.
// Programs that turned unsigned 16-bit files into floating point often left 32768
// standing though the samples are physical already.
func (f *Frame) checkZero(u *unit) {
	f.zeroOpen = u.bitpix < 0 && u.zero == 32768 && u.scale == 1 && f.look.taken
}

// settleZeros decides once a camera whether its floating-point frames need their
// BZERO: when the samples of one are negative without it, they were stored as
// signed numbers, and those of all were. Frame by frame a flat of 39728 ADU would
// be read as 6960 beside a bias read right.
func settleZeros(fs []*Frame) {
	needed := map[names.Name]bool{}
	for _, f := range fs {
		if f.zeroOpen && f.look.median-32768 < 0 {
			needed[f.Meta.Camera] = true
		}
	}
	for _, f := range fs {
		if !f.zeroOpen || needed[f.Meta.Camera] {
			continue
		}
		f.zeroIgnored = true
		f.look.shift(-32768)
		f.warn(ZeroIgnored)
		f.classify(f.headerKind, f.folders)
	}
}
