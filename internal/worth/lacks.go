package worth

import (
	"fitsqa/internal/fact"
	"fitsqa/internal/stats"
)

// What is lacking where there is no verdict.
const (
	NoSubs           fact.Code = "no_subs_to_stack"
	NoExposure       fact.Code = "exposure_unknown"
	NoReadNoise      fact.Code = "read_noise_without_electrons" // reason
	NoSky            fact.Code = "sky_without_electrons"        // reason
	NoDarks          fact.Code = "no_darks_of_sensor"
	MasterHides      fact.Code = "master_dark_hides_sensor"
	SubsSilent       fact.Code = "no_darks_and_subs_silent" // reason
	NoFlats          fact.Code = "no_flats_fit"
	NoFlatNoise      fact.Code = "flat_noise_unknown"  // reason
	FewSubsOfMap     fact.Code = "few_subs_for_map"    // subs
	FewSubsOrNoGain  fact.Code = "few_subs_for_darks"  // subs
	FewHotPixelsSeen fact.Code = "few_hot_pixels_seen" // pixels
)

// because is what is lacking with the reason that a missing figure gives.
func because(code fact.Code, v stats.Value) fact.Fact {
	return fact.Of(code, fact.Reason(v.Reason()))
}

// lacking is which of the figures that every answer needs is lacking; no code when none is.
func (in Input) lacking() fact.Fact {
	switch {
	case in.Subs < 1:
		return fact.Of(NoSubs)
	case !(in.Exposure > 0):
		return fact.Of(NoExposure)
	case !in.ReadNoise.OK():
		return because(NoReadNoise, in.ReadNoise)
	case !in.SkyRate.OK():
		return because(NoSky, in.SkyRate)
	}
	return fact.Fact{}
}
