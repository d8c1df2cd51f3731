package subs

import (
	"fmt"
	"math"
)

// A jump in the middle of an exposure leaves every star twice, each image as
// round as ever; so does a dither that had not settled when the exposure began.
// The second images are the share of light that the jump cut off.
const (
	doubledShows  = 0.02 // share beyond which a sub is doubtful: a star of 12 mag has a twin of 16
	doubledSpoils = 0.10 // and beyond which it is culled (common practice, no source)
)

// doubledShare is the share of the stars' light in second images; 0 where none
// were found or none could be looked for.
func doubledShare(s *Sub) float64 {
	if s.Field == nil || !s.Field.Double.Is() {
		return 0
	}
	return s.Field.Double.Share.V
}

// jumped looks for doubled stars. Ghosts of the optics stand at one offset too,
// in every sub of the group, so the group's own share is allowed for.
func (e *evidence) jumped() finding {
	share := doubledShare(e.Sub) - e.base.Doubled
	verdict, severity := grade(share, doubledShows, doubledSpoils)
	if verdict == Keep {
		return finding{}
	}
	d := e.Field.Double
	return finding{Trailed, verdict, severity, fmt.Sprintf("%.0f %% of the stars' light stands beside them, %.0f px away: the mount jumped, or the dither had not settled; limit %.0f %%",
		100*d.Share.V, math.Hypot(d.X, d.Y), 100*(crossed(verdict, doubledShows, doubledSpoils)+e.base.Doubled))}
}
