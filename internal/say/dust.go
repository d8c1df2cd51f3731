package say

import (
	"fitsqa/internal/dust"
	"fitsqa/internal/fact"
	"fitsqa/internal/night"
)

// newFlats is what to do where the dust of a flat is not that of the subs.
const newFlats = "shoot new flats of this filter while all is still as it was for the subs, and from now on before camera, filter or focus are touched"

var dustPhrases = map[fact.Code]string{
	dust.Untold:        "whether dust moved before the subs of {lights} cannot be told: {reason}",
	dust.NoneLacking:   "the subs of {lights} show no dust that the flat lacks",
	dust.SomeLie:       "{told %.0f} of {shadows #dust shadow} {told ?lies:lie} where the subs of {lights} have {told ?it:them}{within @}, of the others it cannot be told",
	dust.AllLie:        "{shadows #dust shadow} of the flat {shadows ?lies:lie} where the subs of {lights} have dust{within @}",
	dust.Within:        ", within {within_px %.0f} px",
	dust.WithinUnknown: "",
	dust.Off:           "{clauses @}",
	dust.OffInShort:    "{wrong %.0f} of {told %.0f} {wrong ?does:do} not match the subs of {lights}",

	dust.ShadowsOff:      "{wrong %.0f} of {told #dust shadow} of the flat {wrong ?does:do} not match the subs of {lights} (the strongest imprint at {x %.0f},{y %.0f})",
	dust.OnlyNew:         "the subs of {lights} do not match the flat",
	dust.WorstLeaves:     "the worst leaves {worst_pct %.1f} % of the sky",
	dust.Moved:           "{moved %.0f}{moved ?:, all} moved{by @}{how @}",
	dust.MovedSomewhere:  "",
	dust.MovedBy:         " by {shift_x_px %+.1f}, {shift_y_px %+.1f} px",
	dust.MovedWithTurn:   " and {turned_deg %.1f}° about the middle: the camera was turned against the dust",
	dust.MovedWithFilter: ": filter, wheel or camera did not sit where they did for the flats",
	dust.Widened:         "the shadows are {width_ratio %.2f} times as wide: the dust is at another distance from the sensor (focus, spacing, or a filter of another thickness)",
	dust.AllTooMuch: "all are corrected too much by {too_much_pct %.0f} %: the subs hold a level that did not come through the telescope" +
		" (a wrong offset, dark current left in, stray light)",
	dust.AllTooLittle: "all are corrected too little by {too_little_pct %.0f} %: too much is taken off the subs, or too little off the flats",
	dust.OtherDepth:   "{partly %.0f} {partly ?is:are} of another depth in the subs",
	dust.Gone:         "{gone %.0f} {gone ?is:are} not in the subs: cleaned or fallen off between flats and subs, or moved far",
	dust.Added: "{new #shadow} in the subs that the flat lacks, the first at {new_x %.0f},{new_y %.0f} {new_diameter_px %.0f} px wide {new_depth_pct %.1f} % deep:" +
		" dust that came between flats and subs",
}

// DustRemedy is what to do about dust that moved; "" where none did.
func DustRemedy(d *dust.Match) string {
	if d.Bad() {
		return newFlats
	}
	return ""
}

func dustMoved(d *dust.Match) string {
	return Fact(night.DustWarning(d))
}
