package subs

import (
	"math"

	"fitsqa/internal/fact"
)

// A jump in the middle of an exposure leaves every star twice, each image as
// round as ever; so does a dither that had not settled when the exposure began.
// The second images are the share of light that the jump cut off.
const (
	doubledShows  = 0.02 // share beyond which a sub is doubtful: a star of 12 mag has a twin of 16
	doubledSpoils = 0.10 // and beyond which it is culled (common practice, no source)
)

// jumped looks for doubled stars. Ghosts of the optics stand at one offset too,
// in every sub of the group, so the group's own share is allowed for.
func (e *evidence) jumped() Finding {
	share := e.Field.Double.Light() - e.base.Doubled
	verdict, severity := grade(share, doubledShows, doubledSpoils)
	if verdict == Keep {
		return Finding{}
	}
	d := e.Field.Double
	return Finding{Trailed, verdict, severity, []fact.Fact{fact.Of(StarsDoubled, fact.Number("share_pct", 100*d.Share.V),
		fact.Number("distance_px", math.Hypot(d.X, d.Y)), fact.Number("limit_pct", 100*(crossed(verdict, doubledShows, doubledSpoils)+e.base.Doubled)))}}
}
