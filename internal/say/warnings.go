package say

import (
	"fitsqa/internal/fact"
	"fitsqa/internal/night"
)

var warningPhrases = map[fact.Code]string{
	night.SubsUnread:         "{subs #sub} could not be read, for reasons that say nothing about {subs ?it:them}: not judged, and not moved by cull unless asked for by that cause",
	night.LedgerUnread:       "earlier nights are unknown, so goals and balance know this one alone: {error}",
	night.FilesUnread:        "{files #file} could not be read; see the list of files",
	night.NoFrames:           "left alone, as no frames of a night: {files} ({file}{more +})",
	night.KindDisputed:       "{frames #frame} called calibration by header, name or folder, and like a sub with its stars: neither judged nor used; put right what is wrong",
	night.KindGuessed:        "the kind of {frames #frame} was guessed from pixels and exposure; put IMAGETYP into the headers or use folders named bias, darks, flats, lights",
	night.FramesTooLarge:     "frames this large can take {need_mib %.0f} MiB with one worker alone, more than the {limit_mib %.0f} MiB of --memory",
	night.SeveralSites:       "subs tell of more than one site; hours of darkness are those of {lat_deg %.2f}, {lon_deg %.2f}",
	night.AirPoor:            "{group}: air and optics passed {share %.2f} of this set-up's best night: dew, haze or dirt",
	night.CulledBefore:       "the folder {folder} was left out: it holds what was culled before",
	night.DecisionUnknown:    "the decision file names a sub that is not here: {file}",
	night.DecisionsElsewhere: "decisions on files that are not among these frames: {files %.0f}, kept for when they are",
	night.AirmassOfHeader:    "time or site is missing: the airmass of {subs #sub} is the header's own",
	night.OtherFieldSub:      "1 sub named {target} shows another field than the target's other subs, by its stars: compared with none of them, as {as} ({file})",
	night.OtherLight:         "{subs #sub} said to be through {filter 'no filter} got {times %.2g} times the light of the target's other subs, stars and sky alike: another filter or exposure than {subs ?its header tells:their headers tell}; compared {subs ?apart:among themselves}, as {as} ({file}{subs ?: ...})",
	night.OtherFieldSubs:     "{subs #sub} named {target} show another field than the target's other subs, by their stars: compared among themselves, as {as}",
	night.DarksAboveSubs:     "{group}: the sky lies {below_adu %.3g} ADU below the darks: light got into them, or their offset is another than the subs'; cover the camera and shoot them anew",
	night.DustMoved:          "the dust in {flat} does not match the subs of {lights}: up to {left_pct %.1f} % of the sky is left; shoot new flats (see the flats for what moved)",
	night.FieldDoubt:         "{target}: {finding @}",
}

// Warnings are what is wrong with a night as a whole.
func Warnings(r *night.Result) []string { return each(r.Warnings) }
