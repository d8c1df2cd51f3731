package watch

import "fitsqa/internal/fact"

// What an alert tells. Package say has the words of each; those of the first part are
// followed by what the sub's verdict rests on.
const (
	StarsSoft    fact.Code = "stars_soft_now"
	CloudOrHaze  fact.Code = "cloud_or_haze_now"
	DewNow       fact.Code = "dew_now"
	InFront      fact.Code = "field_obstructed_now"
	SkyTooBright fact.Code = "sky_too_bright_now"
	StarsTrailed fact.Code = "stars_trailed_now"
	StarsDoubled fact.Code = "stars_doubled_now"

	FocusLeaves       fact.Code = "focus_leaves"                // since, wider_pct
	BeginsSoft        fact.Code = "filter_begins_soft"          // wider_pct, filter
	UnnamedBeginsSoft fact.Code = "unnamed_filter_begins_soft"  // wider_pct
	NotDarkYet        fact.Code = "sky_not_dark_yet"            // sun_deg
	OffSetPoint       fact.Code = "sensor_off_set_point"        // sensor_c, off_c
	SkyFills          fact.Code = "sky_fills_range_now"         // range_pct
	StarsSaturated    fact.Code = "stars_saturated_now"         // saturated, stars
	TwilightNears     fact.Code = "twilight_nears"              // dawn, left_min, exposures
	NoFrames          fact.Code = "no_new_frames"               // waited_min, exposure_s
	DiskFull          fact.Code = "disk_nearly_full"            // free_mib
	DiskFullFor       fact.Code = "disk_nearly_full_for_frames" // free_mib, frames
)
