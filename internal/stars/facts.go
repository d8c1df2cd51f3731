package stars

import "fitsqa/internal/fact"

// The notes on a field. Package say has the words of each.
const (
	HotAdded     fact.Code = "points_added"           // points
	HotTakenOff  fact.Code = "points_taken_off"       // points
	HardlyWider  fact.Code = "hardly_wider"           // apart; "pixels" or "green pixels"
	PointsLeft   fact.Code = "points_left_out"        // points
	TakenForHot  fact.Code = "points_taken_for_hot"   // points
	NoMap        fact.Code = "no_map"                 // stars, needed
	NoMapWidths  fact.Code = "no_map_no_widths"       // of any sub
	NoMapKept    fact.Code = "no_map_none_kept"       // of the subs
	NotLookedFor fact.Code = "pattern_not_looked_for" // needed
	NoPattern    fact.Code = "no_pattern"             // stands out
)

// What the pattern over a field tells.
const (
	SideSoft        fact.Code = "side_soft"         // place, soft_px, sharp_px, less_px, less_px_err
	FacingSoft      fact.Code = "facing_soft"       // places, soft_px, sharp_px, less_px, less_px_err
	CornersSoft     fact.Code = "corners_soft"      // softer_pct, softer_pct_err
	SharpestOff     fact.Code = "sharpest_off"      // x_px, y_px
	DrawnAlike      fact.Code = "drawn_out_alike"   // ellipticity, ellipticity_err, angle_deg
	DrawnFromMiddle fact.Code = "drawn_from_middle" // ellipticity, ellipticity_err
	DrawnRound      fact.Code = "drawn_round"       // ellipticity, ellipticity_err
)

// The sides of a field: where a pattern grows to. Rows count upwards as stored.
const (
	AtLeft       fact.Code = "left_edge"
	AtRight      fact.Code = "right_edge"
	AtLower      fact.Code = "lower_edge"
	AtUpper      fact.Code = "upper_edge"
	AtLowerLeft  fact.Code = "lower_left_corner"
	AtLowerRight fact.Code = "lower_right_corner"
	AtUpperLeft  fact.Code = "upper_left_corner"
	AtUpperRight fact.Code = "upper_right_corner"

	AtRisingCorners  fact.Code = "lower_left_and_upper_right_corners"
	AtFallingCorners fact.Code = "upper_left_and_lower_right_corners"
	AtSides          fact.Code = "left_and_right_edges"
	AtEnds           fact.Code = "lower_and_upper_edges"
)
