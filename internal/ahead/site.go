package ahead

import (
	"errors"
	"math"

	"fitsqa/internal/sky"
)

// Site is the telescope's: the user's word, else the one place that the latest
// night was shot from. Subs without a site do not count.
func (s Season) Site(said *sky.Site) (*sky.Site, error) {
	if said != nil {
		return said, nil
	}
	for i := len(s.Subs) - 1; i >= 0; i-- {
		if sub := s.Subs[i]; !math.IsNaN(sub.Lat) && !math.IsNaN(sub.Lon) {
			return &sky.Site{Lat: sub.Lat, Lon: sub.Lon}, nil
		}
	}
	return nil, errors.New("where the telescope stands is not known: name it with --site, or in the settings file")
}
