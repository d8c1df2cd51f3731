package dust

import "fitsqa/internal/fact"

// What the shadows tell. Package say has the words of each.
const (
	Untold        fact.Code = "dust_untold_of_subs" // lights, reason
	NoneLacking   fact.Code = "dust_none_lacking"   // lights; the flat has no shadows
	SomeLie       fact.Code = "dust_some_lie"       // told, shadows, lights, within; where the subs have them
	AllLie        fact.Code = "dust_all_lie"        // shadows, lights, within; where the subs have them
	Within        fact.Code = "dust_within"         // within_px
	WithinUnknown fact.Code = "dust_within_unknown"
	Off           fact.Code = "dust_off"          // clauses, and their values
	OffInShort    fact.Code = "dust_off_in_short" // wrong, told, lights
)

// The clauses of what is wrong.
const (
	ShadowsOff      fact.Code = "shadows_off"       // wrong, told, lights, x, y
	OnlyNew         fact.Code = "shadows_only_new"  // lights
	WorstLeaves     fact.Code = "worst_leaves"      // worst_pct
	Moved           fact.Code = "shadows_moved"     // moved, by, how
	MovedSomewhere  fact.Code = "moved_somewhere"   // by no common shift
	MovedBy         fact.Code = "moved_by"          // shift_x_px, shift_y_px
	MovedWithTurn   fact.Code = "moved_with_turn"   // turned_deg
	MovedWithFilter fact.Code = "moved_with_filter" // or wheel, or camera
	Widened         fact.Code = "shadows_widened"   // width_ratio
	AllTooMuch      fact.Code = "all_too_much"      // too_much_pct
	AllTooLittle    fact.Code = "all_too_little"    // too_little_pct
	OtherDepth      fact.Code = "other_depth"       // partly
	Gone            fact.Code = "shadows_gone"      // gone
	Added           fact.Code = "shadows_added"     // new, new_x, new_y, new_diameter_px, new_depth_pct
)
