package say

import (
	"fitsqa/internal/fact"
	"fitsqa/internal/sky"
)

var clockPhrases = map[fact.Code]string{
	sky.ClockTaken:      "{assumed @} ({why @}{agree @})",
	sky.FewImpossible:   "{reason}; all others are possible, and figures rest on the times as they stand",
	sky.TimesImpossible: "{reason}{hint @}: airmass, Sun, Moon, twilight, extinction and all else that rests on time and place are withheld",
	sky.ClaimsDiffer: "altitude, hour angle, sidereal time or airmass in {wrong #header} disagree with those of time, site and coordinates" +
		" ({file}: {claim} off by {off_deg %.0f}°): they stand still while the target moves, and figures rest on time, site and coordinates",
	sky.ClaimsDispute: "altitude, hour angle, sidereal time or airmass in {wrong #header} disagree with those of time, site and coordinates" +
		" ({file}: {claim} off by {off_deg %.0f}°): one of them is wrong, and airmass, altitude, hour angle and moonlight of these subs are withheld; compare the clock and the site with what the header says",
	sky.ClaimsOfOtherClock: "{reason}: airmass, Sun, Moon, twilight, extinction and all else that rests on time and place are withheld; check the clock that wrote DATE-OBS, and the site",
	sky.ExposedToSun:       "{subs #sub} without stars taken with the Sun up, by the times in the headers; never point an unfiltered telescope near the Sun",
	sky.DateKept: "{file} follows {before} but is dated {hours %.0f} h {minutes %02.0f} min earlier, with the same date:" +
		" the date was not changed at midnight, and subs from there on seem to carry yesterday's",
	sky.ClockJumped:      "clock jump: {file} follows {before} but starts {hours %.0f} h {minutes %02.0f} min earlier",
	sky.ExposuresOverlap: "{pairs #pair} of one camera {pairs ?overlaps:overlap} in time, first {file} and {other}: the clock jumped, or exposure times or camera names are wrong",

	sky.AscensionInHours: "the right ascension in the headers, a number without a unit, is taken for hours",
	sky.LongitudeTurned:  "the longitude {lon_deg %.2f} in the headers counts the other way round: taken as {taken_deg %.2f}",
	sky.ClockAhead:       "the clock in the headers is local time, {zone_h %g} h ahead of UTC: all times are taken so much earlier",
	sky.ClockBehind:      "the clock in the headers is local time, {zone_h %g} h behind UTC: all times are taken so much later",

	sky.ImpossibleAsWritten: "as they stand, {impossible %.0f} of {starry #sub} with stars {impossible ?is:are} impossible ({example}); then every sub with stars falls into darkness",
	sky.ClaimsAsWritten:     "as they stand, what {wrong #header} {wrong ?claims:claim} of the target's place is not so ({file}: {claim} off by {off_deg %.0f}°)",
	sky.ClaimsAgree:         ", and altitude, hour angle, sidereal time and airmass agree as far as the headers have them",
	sky.NoClaimsAgree:       "",

	sky.NoZoneHelps:     "; no zone and no sign of the longitude puts all of them into darkness, so date, clock, site or coordinates are wrong",
	sky.ZoneAheadHelps:  "; a local time written as UTC, {zone_h %g} h ahead of it, would explain it, and so would others",
	sky.ZoneBehindHelps: "; a local time written as UTC, {zone_h %g} h behind it, would explain it, and so would others",
}
