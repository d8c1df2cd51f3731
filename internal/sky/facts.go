package sky

import "fitsqa/internal/fact"

// What the sky and the order of shooting tell of the clock that headers were written
// by. Package say has the words of each.
const (
	ClockTaken         fact.Code = "clock_taken"           // assumed, why, agree, and their values
	FewImpossible      fact.Code = "few_impossible"        // reason
	TimesImpossible    fact.Code = "times_impossible"      // reason, hint, zone_h
	ClaimsDiffer       fact.Code = "claims_differ"         // wrong, file, claim, off_deg; the claims stand still
	ClaimsDispute      fact.Code = "claims_dispute"        // wrong, file, claim, off_deg; it stays open which is wrong
	ClaimsOfOtherClock fact.Code = "claims_of_other_clock" // reason; the claims fit a clock that nobody has there
	ExposedToSun       fact.Code = "exposed_to_sun"        // subs
	DateKept           fact.Code = "date_kept"             // file, before, hours, minutes; past midnight
	ClockJumped        fact.Code = "clock_jumped"          // file, before, hours, minutes
	ExposuresOverlap   fact.Code = "exposures_overlap"     // pairs, file, other

	// what is assumed
	AscensionInHours fact.Code = "ascension_in_hours" // none
	LongitudeTurned  fact.Code = "longitude_turned"   // lon_deg, taken_deg
	ClockAhead       fact.Code = "clock_ahead"        // zone_h
	ClockBehind      fact.Code = "clock_behind"       // zone_h

	// why, and what agrees with it
	ImpossibleAsWritten fact.Code = "impossible_as_written" // impossible, starry, example
	ClaimsAsWritten     fact.Code = "claims_as_written"     // wrong, file, claim, off_deg
	ClaimsAgree         fact.Code = "claims_agree"          // as far as there are any
	NoClaimsAgree       fact.Code = "no_claims_agree"       // or too few tell

	// what would explain times that cannot be
	NoZoneHelps     fact.Code = "no_zone_helps"     // and no sign of the longitude
	ZoneAheadHelps  fact.Code = "zone_ahead_helps"  // zone_h
	ZoneBehindHelps fact.Code = "zone_behind_helps" // zone_h
)
