package measure

import (
	"fmt"
	"math"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/simulated"
	"fitsqa/internal/stats"
)

// spikes draws so many arms with a share of the star's light in all, from a
// direction on, that fade over a length and are mottled as the colours of a broad
// filter make them.
func spikes(s *simulated.Sim, x, y, flux, share float64, arms int, angle, length, fwhm float64) {
	perArm := flux * share / float64(arms) / length
	sigma := fwhm / stars.SigmaToFWHM
	for k := range arms {
		sn, cs := math.Sincos(angle + 2*math.Pi*float64(k)/float64(arms))
		phase := 6 * s.Rng.Float64()
		for j := range s.H {
			for i := range s.W {
				dx, dy := float64(i)-x, float64(j)-y
				along, across := dx*cs+dy*sn, dx*sn-dy*cs
				if along < 0 || along > 6*length || !(math.Abs(across) <= 5*sigma) {
					continue
				}
				light := perArm * math.Exp(-along/length) * (1 + 0.5*math.Sin(along/(1.5*fwhm)+phase))
				s.E[j*s.W+i] += light * math.Exp(-across*across/2/sigma/sigma) / (sigma * math.Sqrt(2*math.Pi))
			}
		}
	}
}

// Knots on the spikes of a bright star are neither stars nor tracks, whatever the
// number, direction, length and brightness of the spikes (but for one of up to sixty,
// two where the spikes hardly stand out); the stars around are kept.
func TestSpikesAreNoStars(t *testing.T) {
	t.Parallel()
	for _, share := range []float64{0.02, 0.08} {
		for k, arms := range []int{4, 6, 8} {
			for _, length := range []float64{25, 60, 120} {
				if testing.Short() && length != 60 {
					continue
				}
				t.Run(fmt.Sprintf("%v of the light in %d arms over %v px", share, arms, length), func(t *testing.T) {
					const sky, fwhm, flux = 300, 3, 3e6
					q := simulated.PSF{Fwhm: fwhm, Beta: 3.5}
					s := simulated.NewSim(uint64(k)+uint64(length), 500, 500, sky)
					truth := [][2]float64{{251.3, 248.8}}
					s.Star(truth[0][0], truth[0][1], flux, q)
					for i, at := range s.Scatter(70, 12) {
						if math.Hypot(at[0]-251, at[1]-249) > 25 {
							s.Star(at[0], at[1], s.Signal(12+3*float64(i), sky, q), q)
							truth = append(truth, at)
						}
					}
					spikes(s, truth[0][0], truth[0][1], flux, share, arms, 0.2+float64(k), length, fwhm)
					data := s.Frame()
					for i, v := range data {
						data[i] = min(v, 60000)
					}
					opt := simulated.Quiet()
					opt.Saturation = 60000
					f, err := Measure(data, s.W, s.H, opt)
					if err != nil {
						t.Fatal(err)
					}
					hit, extra := found(f, truth, 2)
					most := 1
					if share < 0.05 {
						most = 2
					}
					if extra > most || len(f.Streaks) > 0 || float64(hit) < 0.93*float64(len(truth)) {
						t.Errorf("%d of %d stars, %d false ones, %d tracks", hit, len(truth), extra, len(f.Streaks))
					}
				})
			}
		}
	}
}

// Nor are the ghosts and the halo of a bright star, and the column into which a
// sensor without drains blooms, of several lengths: all but three places of them,
// where a rim or the end of a column looks like a star, and five of the sixty where the
// search stumbles over a rim 600 px long.
func TestGhostsHalosAndBloomingAreNoStars(t *testing.T) {
	t.Parallel()
	const sky, fwhm, flux, full = 300, 3.0, 4e6, 60000.0
	q := simulated.PSF{Fwhm: fwhm, Beta: 3.5}
	for name, draw := range map[string]func(s *simulated.Sim){
		"halo":            func(s *simulated.Sim) { s.Spot(251, 249, 0.15*flux, 70) },
		"thin ghost":      func(s *simulated.Sim) { disc(s, 300, 290, 9, 0.7, 0.003*flux) },
		"ghost":           func(s *simulated.Sim) { disc(s, 330, 200, 24, 0.5, 0.01*flux) },
		"ring":            func(s *simulated.Sim) { disc(s, 251, 249, 30, 0.9, 0.02*flux) },
		"faint ring":      func(s *simulated.Sim) { disc(s, 320, 310, 30, 0.95, 0.004*flux) },
		"wide ring":       func(s *simulated.Sim) { disc(s, 240, 280, 100, 0.97, 0.04*flux) },
		"broad ring":      func(s *simulated.Sim) { disc(s, 270, 240, 100, 0.9, 0.04*flux) },
		"middling":        func(s *simulated.Sim) { disc(s, 200, 280, 55, 0.9, 0.04*flux) },
		"full disc":       func(s *simulated.Sim) { disc(s, 190, 300, 35, 0, 0.02*flux) },
		"short column":    func(s *simulated.Sim) { bloom(s, 251, 249, 15, full) },
		"long column":     func(s *simulated.Sim) { bloom(s, 251, 249, 140, full) },
		"column to edges": func(s *simulated.Sim) { bloom(s, 251, 249, 400, full) },
	} {
		t.Run(name, func(t *testing.T) {
			s := simulated.NewSim(uint64(len(name)), 500, 500, sky)
			truth := [][2]float64{{251.3, 248.8}}
			s.Star(truth[0][0], truth[0][1], flux, q)
			for i, at := range s.Scatter(80, 12) {
				if math.Hypot(at[0]-251, at[1]-249) > 40 && math.Abs(at[0]-251) > 9 {
					s.Star(at[0], at[1], s.Signal(12+3*float64(i), sky, q), q)
					truth = append(truth, at)
				}
			}
			draw(s)
			f := measureFull(t, s, full)
			hit, extra := found(f, truth, 2)
			most := 3
			if name == "wide ring" {
				most = 5
			}
			if extra > most || len(f.Streaks) > 0 || float64(hit) < 0.9*float64(len(truth)) || !(math.Abs(f.FWHM.V/fwhm-1) <= 0.03) {
				t.Errorf("%d of %d stars, %d false ones, %d tracks, FWHM %v", hit, len(truth), extra, len(f.Streaks), f.FWHM)
			}
		})
	}
}

// disc adds a ghost: the out-of-focus image of a mirror, dark in its middle.
func disc(s *simulated.Sim, x, y, radius, hole, flux float64) {
	area := math.Pi * radius * radius * (1 - hole*hole)
	for j := range s.H {
		for i := range s.W {
			if r := math.Hypot(float64(i)-x, float64(j)-y); r < radius+0.5 && r > hole*radius-0.5 {
				s.E[j*s.W+i] += flux / area * min(1, radius+0.5-r) * min(1, r-hole*radius+0.5)
			}
		}
	}
}

// bloom fills the columns of a saturated star up and down.
func bloom(s *simulated.Sim, x, y, length int, full float64) {
	for j := max(0, y-length); j < min(s.H, y+length); j++ {
		for i := x - 1; i <= x+1; i++ {
			if i == x || max(j-y, y-j) < length*2/3 {
				s.E[j*s.W+i] += full
			}
		}
	}
}

// Nor are the feet of spikes beside a star whose light has filled its pixels many times
// over, of which those that are left tell neither its height nor its light: all but two of
// the some thirty knots, however the colours of the filter mottle them, and the stars' fluxes
// are right to 3 % in the middle, which is what the noise of some twenty of them leaves.
func TestFeetOfSpikesAreNoStars(t *testing.T) {
	t.Parallel()
	const sky, fwhm, full = 250, 2.3, 60000.0
	q := simulated.PSF{Fwhm: fwhm, Beta: 6}
	for k, mottle := range []float64{0, 9, 14, 20} {
		for _, flux := range []float64{1e7, 4e7, 1e8} {
			s := simulated.NewSim(uint64(k)+uint64(flux), 500, 400, sky)
			truth, light := [][2]float64{{251.3, 198.8}}, []float64{math.NaN()}
			s.Star(truth[0][0], truth[0][1], flux, q)
			feet(s, truth[0][0], truth[0][1], 0.08*flux, 0.5+float64(k), mottle, fwhm)
			for i, at := range s.Scatter(24, 14) {
				if math.Hypot(at[0]-251, at[1]-199) > 45 {
					light = append(light, s.Signal(15+6*float64(i), sky, q))
					s.Star(at[0], at[1], light[len(light)-1], q)
					truth = append(truth, at)
				}
			}
			f := measureFull(t, s, full)
			if _, extra := found(f, truth, 2); extra > 2 {
				t.Errorf("mottled by %v px, a star of %.0e: %d false stars", mottle, flux, extra)
			}
			var ratios []float64
			for _, st := range f.Stars {
				for i, at := range truth[1:] {
					if math.Hypot(st.X-at[0], st.Y-at[1]) < 1.5 {
						ratios = append(ratios, st.Flux/light[i+1])
					}
				}
			}
			if m := stats.Median(ratios); !(math.Abs(m-1) < 0.03) {
				t.Errorf("mottled by %v px, a star of %.0e: fluxes of %d stars are %.3f of the truth", mottle, flux, len(ratios), m)
			}
		}
	}
}

// feet draws six arms that hold so much light, brightest beside the star (as 1/r: of a
// straight edge), mottled with a period, px; none where it is 0.
func feet(s *simulated.Sim, x, y, light, angle, mottle, fwhm float64) {
	const arms, length = 6, 200
	sigma := fwhm / stars.SigmaToFWHM
	for k := range arms {
		sn, cs := math.Sincos(angle + 2*math.Pi*float64(k)/arms)
		for j := range s.H {
			for i := range s.W {
				dx, dy := float64(i)-x, float64(j)-y
				along, across := dx*cs+dy*sn, dx*sn-dy*cs
				if along < 1 || !(math.Abs(across) <= 5*sigma) {
					continue
				}
				v := light / arms / math.Log(1+length/(3*fwhm)) / (along + 3*fwhm) * math.Exp(-along*along/length/length)
				if mottle > 0 {
					v *= 1 + 0.6*math.Cos(2*math.Pi*along/mottle)
				}
				s.E[j*s.W+i] += v * math.Exp(-across*across/2/sigma/sigma) / (sigma * math.Sqrt(2*math.Pi))
			}
		}
	}
}

// measureFull measures a drawn frame whose pixels hold no more than so many ADU.
func measureFull(t *testing.T, s *simulated.Sim, full float32) *stars.Field {
	t.Helper()
	data := s.Frame()
	for i, v := range data {
		data[i] = min(v, full)
	}
	opt := simulated.Quiet()
	opt.Saturation = float64(full)
	f, err := Measure(data, s.W, s.H, opt)
	if err != nil {
		t.Fatal(err)
	}
	return f
}
