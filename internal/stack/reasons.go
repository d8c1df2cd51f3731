package stack

import "fitsqa/internal/fact"

// Why a figure is missing. Package say has the words of each.
const (
	OneFrame     fact.Code = "one_frame"
	NoDifference fact.Code = "frames_alike"
	KindsMixed   fact.Code = "two_kinds_of_frames" // low, low_adu, high, high_adu
)
