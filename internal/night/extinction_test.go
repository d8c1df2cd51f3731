package night

import (
	"math"
	"testing"
	"time"

	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/sky"
	"fitsqa/internal/stars/photometry"
	"fitsqa/internal/stats"
)

// Every filter and every night has an extinction of its own: the air of two
// nights is not the same, and blue loses more than red.
func TestExtinctionsOfNights(t *testing.T) {
	r := &Result{}
	for night, k := range []float64{0.1, 0.3} {
		for _, filter := range []names.Name{"B", "R"} {
			all := shot(20, 40, 0, 0, 0, 4)
			for i, s := range all {
				s.Start = s.Start.Add(time.Duration(24*night) * time.Hour)
				s.Filter = filter
				x := 1 + 0.05*float64(i)
				loss := k * (x - 1)
				if filter == "B" {
					loss *= 2
				}
				if i%4 == 0 {
					loss += 0.5 // cloud
				}
				ratio := math.Pow(10, -0.4*loss)
				s.Transparency = photometry.Transparency{Ratio: stats.Known(ratio, 0.01*ratio, 30)}
				s.Sky = sky.Conditions{Airmass: stats.Known(x, math.NaN(), 0)}
			}
			r.Subs = append(r.Subs, all...)
		}
	}
	r.fitExtinctions()
	want := map[string]float64{"2025-03-01 B": 0.2, "2025-03-01 R": 0.1, "2025-03-02 B": 0.6, "2025-03-02 R": 0.3}
	for _, e := range r.Extinctions {
		k := want[e.Night+" "+string(e.Filter)]
		delete(want, e.Night+" "+string(e.Filter))
		// Exact ratios: the cloud is left out whole.
		if !(math.Abs(e.K.V-k) <= 1e-6) || e.K.N != 15 || e.From != 1.05 || !(math.Abs(e.To-1.95) <= 1e-9) {
			t.Errorf("%s %s: %v of %d subs from %v to %v, want %v", e.Night, e.Filter, e.K.V, e.K.N, e.From, e.To, k)
		}
	}
	if len(want) > 0 {
		t.Errorf("nothing of %v", want)
	}

	for _, s := range r.Subs {
		s.Sky.Airmass = stats.Missing(sky.SiteUnknown)
	}
	r.Extinctions = nil
	r.fitExtinctions()
	if len(r.Extinctions) != 4 || r.Extinctions[0].K.Why.Code != sky.SiteUnknown {
		t.Errorf("without a site: %+v", r.Extinctions)
	}
}

// Twilight and Moon cover the pauses between subs too, but not the day between
// two nights.
func TestLightUp(t *testing.T) {
	r := &Result{Settings: Settings{Site: &sky.Site{Lat: 51.4779, Lon: 0.001}}}
	at := func(day, hour, minute int) *Sub {
		s := shot(1, 40, 0, 0, 0, 0)[0]
		s.Start = time.Date(2024, 3, day, hour, minute, 0, 0, time.UTC)
		return s
	}
	// Dusk ends at 20:08 on the 20th: the pause between 18:30 and 22:00 holds it.
	r.Subs = []*Sub{{Sub: shot(1, 40, 0, 0, 0, 0)[0].Sub, Frame: &frames.Frame{Meta: frames.NoMeta()}}, at(20, 18, 30), at(20, 22, 0), at(21, 22, 0)}
	r.Subs[0].Start = time.Time{}
	r.lightUp()
	if len(r.Twilight) != 1 || !r.Twilight[0].Start.Equal(r.Subs[1].Start) || r.Twilight[0].End.Sub(time.Date(2024, 3, 20, 20, 7, 48, 0, time.UTC)).Abs() > time.Minute {
		t.Errorf("twilight %v", r.Twilight)
	}
	// The Moon, 3 days past first quarter, is up all evening of both nights.
	if len(r.MoonUp) != 2 || r.MoonUp[0].Hours() < 3.5 || !r.MoonUp[1].Start.Equal(r.Subs[3].Start) || r.MoonUp[1].End.Sub(r.MoonUp[1].Start) != 300*time.Second {
		t.Errorf("Moon %v", r.MoonUp)
	}
	r.Settings.Site, r.Twilight, r.MoonUp = nil, nil, nil
	r.lightUp()
	if r.Twilight != nil || r.MoonUp != nil {
		t.Error("light without a site")
	}
}
