package calib

import "fitsqa/internal/fact"

// Why calibration cannot be used, or a figure is missing. Package say has the words of each.
const (
	NotMeasured      fact.Code = "no_calibration_measured"
	CalibratedBefore fact.Code = "calibrated_before"
	NothingFits      fact.Code = "no_bias_or_dark_fits"
	OverscanUnused   fact.Code = "overscan_unused"
	MasterUnread     fact.Code = "master_unread"        // error
	MasterScaled     fact.Code = "master_scaled"        // end
	MasterRate       fact.Code = "master_is_rate"       // differ_adu, read_noise_adu
	MasterSum        fact.Code = "master_is_sum"        // level_adu, subs_adu
	MasterLacksBias  fact.Code = "master_lacks_bias"    // level_adu
	MasterUntold     fact.Code = "master_offset_untold" // level_adu, subs_adu
	MasterUnderSubs  fact.Code = "master_under_subs"    // level_adu, subs_adu, light_adu
)
