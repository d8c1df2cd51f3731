package compare

import "fitsqa/internal/fact"

// Why a figure is missing. Package say has the words of each.
const (
	AsWritten    fact.Code = "as_written" // reason
	NotInLedger  fact.Code = "not_in_ledger"
	NoiseOrScale fact.Code = "noise_or_scale_not_told"
	OneFilter    fact.Code = "one_filter"
	OfMagnitudes fact.Code = "ratio_of_magnitudes"
	FirstNothing fact.Code = "first_is_nothing"
)
