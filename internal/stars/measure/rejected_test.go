package measure

import (
	"math"
	"testing"

	"fitsqa/internal/fact"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/simulated"
)

// What shines and is no star is told with its reason, where it was drawn; the
// stars themselves are not among it.
func TestRejectedSayWhy(t *testing.T) {
	q := simulated.PSF{Fwhm: 3, Beta: 3.5}
	s := simulated.NewSim(5, 700, 480, 400)
	drawn := map[fact.Code][][2]float64{}
	places := s.Scatter(100, 25)
	for i, at := range places {
		switch {
		case i < 15:
			x, y := math.Round(at[0]), math.Round(at[1])
			s.E[int(y)*s.W+int(x)] += 3000
			drawn[stars.PointOfLight] = append(drawn[stars.PointOfLight], [2]float64{x, y})
		case i < 25:
			s.Spot(at[0], at[1], 30000, 9)
			drawn[stars.Broader] = append(drawn[stars.Broader], at)
		default:
			s.Star(at[0], at[1], s.Signal(20+80*s.Rng.Float64(), 400, q), q)
			drawn["star"] = append(drawn["star"], at)
		}
	}
	track(s, 0, 100, 699, 420, 250, 3)
	var m Measurer
	f, err := m.Measure(s.Frame(), s.W, s.H, simulated.Quiet())
	if err != nil || len(f.Streaks) != 1 {
		t.Fatalf("%v, %d tracks", err, len(f.Streaks))
	}
	beside := func(x, y float64) bool { return math.Abs((y-100)*699-x*320)/math.Hypot(699, 320) > 12 }
	rejected := m.Rejected()
	at := func(p [2]float64, within float64, why fact.Code) bool {
		for _, r := range rejected {
			if math.Hypot(r.X-p[0], r.Y-p[1]) < within && (why == "" || r.Why == why) {
				return true
			}
		}
		return false
	}
	for why, within := range map[fact.Code]float64{stars.PointOfLight: 1.5, stars.Broader: 9} { // px: anywhere on the broad one's flat middle
		found, looked := 0, 0
		for _, p := range drawn[why] {
			if !beside(p[0], p[1]) {
				continue // the track covers it
			}
			looked++
			if at(p, within, why) {
				found++
			}
		}
		if found < looked {
			t.Errorf("%s: %d of %d", why, found, looked)
		}
	}
	onIt := 0
	for _, r := range rejected {
		if r.Why == stars.OnTrack && !beside(r.X, r.Y) {
			onIt++
		} else if r.Why == stars.OnTrack {
			t.Errorf("%v lies beside the track", r)
		}
	}
	if onIt < 20 {
		t.Errorf("%d lights of the track", onIt)
	}
	for _, p := range drawn["star"] {
		if beside(p[0], p[1]) && at(p, 1.5, "") {
			t.Errorf("the star at %v is among the rejected", p)
		}
	}
	// What one frame showed is not told of the next.
	if _, err := m.Measure(make([]float32, 32*32), 32, 32, simulated.Quiet()); err != nil || len(m.Rejected()) != 0 {
		t.Errorf("%v, %d lights of an empty frame", err, len(m.Rejected()))
	}
}
