package frames

import "math"

// partsOfOne forgets the e-/ADU of headers whose samples are parts of 1: whatever they
// were divided by, 65535 or the frame's own brightest pixel, a sample is no ADU any more,
// and by the old figure all photon noise would be huge.
func partsOfOne(fs []*Frame) {
	for _, f := range fs {
		l := f.look
		if f.Err == nil && !f.Master && f.Image.Bitpix < 0 && l.taken && l.fine && l.peak <= 1 && f.Meta.ElectronsPerADU > 0 {
			f.Meta.ElectronsPerADU = math.NaN()
			f.warn(GainOfWhole)
		}
	}
}
