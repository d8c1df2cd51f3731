package dust

import "fitsqa/internal/fact"

// Why nothing can be said, of a flat, a shadow or a figure. Package say has the words of
// each.
const (
	FoundMaster    fact.Code = "flat_is_a_found_master"
	SmallFrames    fact.Code = "small_frames_for_dust"
	FewSubs        fact.Code = "few_subs_for_dust"
	NothingWrong   fact.Code = "no_shadow_wrong"
	NoneMoved      fact.Code = "no_shadow_moved"
	OneMoved       fact.Code = "one_shadow_moved"
	OnlyShift      fact.Code = "only_shift_sought"
	ShadowCut      fact.Code = "shadow_small_or_at_edge"
	FlatNoisy      fact.Code = "flat_hides_shadow"
	ShadowCovered  fact.Code = "shadow_covered"
	FewFree        fact.Code = "few_cells_free"
	ShadowFaint    fact.Code = "shadow_in_noise" // shadow_pct, noise_pct
	ShadowStrong   fact.Code = "stronger_than_shadow"
	MovesWithStars fact.Code = "moves_with_stars"
	DitherSmall    fact.Code = "dither_too_small_for_dust"
	AloneOther     fact.Code = "alone_of_other_depth"
)
