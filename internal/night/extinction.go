package night

import (
	"time"

	"fitsqa/internal/names"
	"fitsqa/internal/sky"
	"fitsqa/internal/stars/photometry"
	"fitsqa/internal/stats"
)

// ExtinctionReport is what the air took from one target through one filter in
// one night. The transparency of the subs is not corrected for it.
type ExtinctionReport struct {
	Target, Filter, Camera names.Name
	Night                  string // date of the evening, "2024-03-20"; "" when no sub tells the time
	photometry.Extinction
}

// fitExtinctions looks for the trend of transparency with airmass.
func (r *Result) fitExtinctions() {
	var times []time.Time
	for _, s := range r.Subs {
		times = append(times, s.Start)
	}
	calendar := sky.NewCalendar(r.NightSite(), times)
	for _, same := range sameFields(r.Subs) {
		type shot struct {
			filter names.Name
			night  string
		}
		for _, group := range partition(same, func(s *Sub) shot { return shot{s.Filter, calendar.Date(s.Start)} }) {
			e := ExtinctionReport{Target: group[0].Target, Filter: group[0].Filter, Camera: group[0].Camera, Night: calendar.Date(group[0].Start)}
			var ratio []stats.Value
			var airmass []float64
			known := false
			for _, s := range group {
				ratio, airmass = append(ratio, s.Transparency.Ratio), append(airmass, s.Sky.Airmass.V)
				known = known || s.Sky.Airmass.OK()
			}
			e.Extinction = photometry.FitExtinction(ratio, airmass)
			if !known {
				e.K = stats.Because(group[0].Sky.Airmass.Why)
			}
			r.Extinctions = append(r.Extinctions, e)
		}
	}
}
