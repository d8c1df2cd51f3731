package night

import "fitsqa/internal/fact"

// What the motion of a target's field tells. Package say has the words of each.
const (
	DriftBeyondDither fact.Code = "drift_beyond_dither" // the drift of an hour
	PointingJumped    fact.Code = "pointing_jumped"     // files, more
	FieldsForeign     fact.Code = "fields_foreign"      // files, more
	TurnsLikeAltAz    fact.Code = "turns_like_altaz"    // turn_deg_per_h, turn_deg_per_h_err, trail, trail_px, exposure_s
	PolarAxisOff      fact.Code = "polar_axis_off"      // turn_deg_per_h, turn_deg_per_h_err, polar_arcmin, trail, trail_px, exposure_s
	PolarAxisFarOff   fact.Code = "polar_axis_far_off"  // turn_deg_per_h, turn_deg_per_h_err, polar_arcmin, trail, trail_px, exposure_s
	FieldTurns        fact.Code = "field_turns"         // turn_deg_per_h, turn_deg_per_h_err, trail, trail_px, exposure_s

	// what the turn does to the stars in the corners of a sub
	CornerTrails   fact.Code = "corner_trails"   // trail_px, exposure_s
	CornerHardly   fact.Code = "corner_hardly"   // trail_px, exposure_s
	CornersUnknown fact.Code = "corners_unknown" // no exposure is known
)

// What the place of a target tells.
const (
	PointsAway       fact.Code = "points_away"         // off_arcmin
	ScaleOfHeaderOff fact.Code = "scale_of_header_off" // off_pct, header_arcsec_px, stars_arcsec_px
	SubsElsewhere    fact.Code = "subs_elsewhere"      // subs, target, files
	TargetElsewhere  fact.Code = "target_elsewhere"    // apart_deg, named
)
