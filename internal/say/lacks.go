package say

import (
	"fitsqa/internal/fact"
	"fitsqa/internal/worth"
)

const shootOnce = ": shoot five darks of the subs' exposure and temperature once"

var lacksPhrases = map[fact.Code]string{
	worth.NoSubs:           "no subs to stack",
	worth.NoExposure:       "the subs' exposure is not known",
	worth.NoReadNoise:      "the read noise is not known in electrons: {reason}",
	worth.NoSky:            "the sky is not known in electrons: {reason}",
	worth.MasterHides:      "a master dark is taken off the subs, and no bias frames are there to look at them without it",
	worth.NoDarks:          "no darks to judge the sensor by" + shootOnce,
	worth.SubsSilent:       "no darks, and the subs do not tell: {reason}" + shootOnce,
	worth.NoFlats:          "no flats fit",
	worth.NoFlatNoise:      "the flats' noise is not known: {reason}",
	worth.FewSubsOfMap:     "it takes six subs",
	worth.FewSubsOrNoGain:  "it takes six subs and a known gain",
	worth.FewHotPixelsSeen: "too few of its hot pixels stand out of the subs",
}
